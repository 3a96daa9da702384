#include "demo/interface/patch_bay.hpp"

#include "demo/interface/interface_fault.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {
namespace {

std::string socket_number(std::string_view text) {
    const double number = number_of("a socket", text, 1.0, static_cast<double>(desk_channels));
    return std::to_string(static_cast<int>(number));
}

/// The pairs of "a:b,c:d".
std::vector<std::pair<std::string, std::string>> pairs_of(std::string_view text) {
    std::vector<std::pair<std::string, std::string>> pairs;
    if (text == "none") return pairs;
    for (const auto& piece : split_at_commas(text)) {
        const auto colon = piece.find(':');
        if (colon == std::string::npos || colon == 0 || colon + 1 == piece.size()) {
            throw user_mistake("\"" + piece + "\" is no cable; write it as FROM:TO.");
        }
        pairs.emplace_back(piece.substr(0, colon), piece.substr(colon + 1));
    }
    return pairs;
}

}  // namespace

patch_bay::patch_bay(jack_client& jack, std::string desk, std::string module)
    : jack_{jack}, desk_{std::move(desk)}, module_{std::move(module)} {}

void patch_bay::replace(cables& kind, cables by) noexcept {
    for (const auto& [from, to] : kind) {
        if (!by.contains({from, to})) jack_.unplug(from, to);
    }
    kind = std::move(by);
    mend();
}

void patch_bay::set_cables(std::string_view text) {
    cables wanted;
    for (const auto& [socket, jack] : pairs_of(text)) {
        wanted.emplace(desk_ + ":out_" + socket_number(socket), module_ + ":" + jack);
    }
    replace(forward_, std::move(wanted));
}

void patch_bay::set_back(std::string_view text) {
    cables wanted;
    for (const auto& [jack, socket] : pairs_of(text)) {
        wanted.emplace(module_ + ":" + jack, desk_ + ":in_" + socket_number(socket));
    }
    replace(back_, std::move(wanted));
}

void patch_bay::set_loop(std::string_view text) {
    cables wanted;
    for (const auto& [out, in] : pairs_of(text)) {
        wanted.emplace(desk_ + ":out_" + socket_number(out), desk_ + ":in_" + socket_number(in));
    }
    replace(loop_, std::move(wanted));
}

bool patch_bay::mend() noexcept {
    bool whole = true;
    for (const auto* kind : {&loop_, &forward_, &back_}) {
        for (const auto& [from, to] : *kind) whole = jack_.plug(from, to) && whole;
    }
    return whole;
}

}  // namespace ferrule
