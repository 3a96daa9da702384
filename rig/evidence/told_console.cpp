#include "rig/evidence/told_console.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <utility>

namespace cvrig::evidence {

namespace {

using json = nlohmann::json;

constexpr auto npos = std::string_view::npos;
constexpr std::string_view tcp{"TCP "};
constexpr std::string_view usb{"USB serial port "};
constexpr std::string_view program{"program "};
constexpr std::array path_kinds{std::string_view{"serial port "}, std::string_view{"terminal "},
                                program};

bool is_console(std::string_view words) {
    return words.starts_with(tcp) || words.starts_with(usb) ||
           std::ranges::any_of(path_kinds,
                               [&](std::string_view kind) { return words.starts_with(kind); });
}

/// "TCP desk:5025" or "terminal /srv/x" of what a log calls its port; empty for a bare word, which may be
/// the name of a program.
std::string console_of_port(std::string_view port) {
    const auto colon = port.rfind(':');
    if (port.find_first_of("/\\") != npos) return fmt::format("terminal {}", port);
    const bool is_address = colon != npos && colon > 0 && colon + 1 < port.size() &&
                            port.find_first_not_of("0123456789", colon + 1) == npos;
    return is_address ? fmt::format("TCP {}", port) : std::string{};
}

std::string_view up_to_bracket(std::string_view text) {
    return text.substr(0, text.find(')'));
}

std::string console_of_line(std::string_view line) {
    for (const std::string_view before : {"console on ", "console: "})
        if (const auto at = line.rfind(before); at != npos)
            if (const auto words = line.substr(at + before.size()); is_console(words))
                return std::string{words};
    for (const std::string_view before : {"The console (", "the console is open ("})
        if (const auto at = line.rfind(before); at != npos) {
            const auto words = up_to_bracket(line.substr(at + before.size()));
            return is_console(words) ? std::string{words} : console_of_port(words);
        }
    return {};
}

void add_all(std::vector<std::string>& to, const json& at) {
    if (at.is_string()) {
        for (auto& one : consoles_told_in(at.get_ref<const std::string&>()))
            to.push_back(std::move(one));
    } else if (at.is_structured()) {
        for (const auto& item : at) add_all(to, item);
    }
}

void add_host(private_names& to, std::string_view address) {
    const auto colon = address.rfind(':');
    auto host = address.substr(0, colon);
    if (host.starts_with('[') && host.ends_with(']')) host = host.substr(1, host.size() - 2);
    to.hosts.emplace_back(host);
}

void add_usb(private_names& to, std::string_view device) {
    constexpr std::string_view before{"serial number "};
    // A short number stands for much else, such as a unit.
    constexpr std::size_t shortest = 5;
    const auto at = device.find(before);
    if (at == npos) return;
    to.ports.emplace_back(device.substr(at));
    const auto number = device.substr(at + before.size());
    if (number.size() >= shortest) to.ports.emplace_back(number);
}

}  // namespace

std::vector<std::string> consoles_told_in(std::string_view text) {
    std::vector<std::string> out;
    while (!text.empty()) {
        const auto end = std::min(text.find('\n'), text.size());
        if (auto console = console_of_line(text.substr(0, end)); !console.empty())
            out.push_back(std::move(console));
        text.remove_prefix(std::min(end + 1, text.size()));
    }
    std::ranges::sort(out);
    const auto twice = std::unique(out.begin(), out.end());
    out.erase(twice, out.end());
    return out;
}

std::vector<std::string> consoles_told_in_json(std::string_view record) {
    std::vector<std::string> out;
    add_all(out, json::parse(record, nullptr, false));
    return out;
}

void add_console(private_names& to, std::string_view console) {
    if (console.starts_with(tcp)) return add_host(to, console.substr(tcp.size()));
    if (console.starts_with(usb)) return add_usb(to, console.substr(usb.size()));
    for (const auto kind : path_kinds) {
        if (!console.starts_with(kind)) continue;
        const auto path = console.substr(kind.size());
        const bool is_path = path.find_first_of("/\\") != npos;
        // A program that is named without a path has a name that everybody may know.
        if (is_path)
            to.folders.emplace_back(path);
        else if (kind != program)
            to.ports.emplace_back(path);
    }
}

}  // namespace cvrig::evidence
