#include "rig/link/audio_devices.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>

#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::string lower(std::string text) {
    std::transform(text.begin(), text.end(), text.begin(),
                   [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

std::string names_of(const std::vector<audio_device>& devices) {
    std::vector<std::string> names;
    names.reserve(devices.size());
    for (const auto& d : devices)
        names.push_back(fmt::format("{} ({})", cvrig::quoted(d.name), d.api));
    return listed(names);
}

[[noreturn]] void refuse(const audio_link_settings& wanted, std::string sentence) {
    throw user_error{std::vector{complaint{wanted.where, std::move(sentence)}}};
}

/// The devices of one way that the name may mean; only the one that has it as its whole name, if
/// there is one.
std::vector<audio_device> matching(const std::vector<audio_device>& all, const std::string& api,
                                   const std::string& name) {
    std::vector<audio_device> out;
    for (const auto& d : all) {
        if (d.api != api) continue;
        if (d.name == name) return {d};
        if (lower(d.name).find(lower(name)) != std::string::npos) out.push_back(d);
    }
    return out;
}

std::vector<std::string> apis_of(const std::vector<audio_device>& all,
                                 const audio_link_settings& wanted) {
    if (!wanted.api.empty()) return {wanted.api};
    std::vector<std::string> out;
    for (const auto& d : all)
        if (std::find(out.begin(), out.end(), d.api) == out.end()) out.push_back(d.api);
    return out;
}

std::string in_khz(double hz) {
    return fmt::format("{:g} kHz", hz / 1000.0);
}

}  // namespace

std::vector<std::string> shortcomings(const audio_device& device, std::size_t outputs,
                                      std::size_t inputs, sample_rate rate) {
    if (!device.problem.empty()) return {device.problem};
    std::vector<std::string> out;
    const auto compare = [&](std::size_t there, std::size_t needed, std::string_view what) {
        if (there == 0)
            out.push_back(fmt::format("has no {}s", what));
        else if (there < needed)
            out.push_back(fmt::format("has only {} {}{}, and {} are needed", there, what,
                                      there == 1 ? " (mono)" : "s", needed));
    };
    compare(device.outputs, outputs, "output");
    compare(device.inputs, inputs, "input");
    const auto& rates = device.rates_hz;
    if (std::find(rates.begin(), rates.end(), rate.value()) == rates.end()) {
        std::vector<std::string> there;
        there.reserve(rates.size());
        for (const double hz : rates) there.push_back(in_khz(hz));
        out.push_back(
            fmt::format("does not run at {}, only at {}", in_khz(rate.value()), listed(there)));
    }
    return out;
}

audio_device find_device(const std::vector<audio_device>& all, const audio_link_settings& wanted) {
    for (const auto& api : apis_of(all, wanted)) {
        const auto found = matching(all, api, wanted.device);
        if (found.size() == 1) return found.front();
        if (found.size() > 1)
            refuse(wanted, fmt::format("The name {} is a part of several audio devices: {}; write "
                                       "more of the name.",
                                       cvrig::quoted(wanted.device), names_of(found)));
    }
    const auto by = wanted.api.empty() ? "" : fmt::format(" by way of {}", wanted.api);
    if (all.empty())
        refuse(wanted, fmt::format("There is no audio device {}{}, since there is no audio device "
                                   "at all; connect and switch on the interface, or start its "
                                   "server.",
                                   cvrig::quoted(wanted.device), by));
    refuse(wanted, fmt::format("There is no audio device {}{}; there are {}.",
                               cvrig::quoted(wanted.device), by, names_of(all)));
}

}  // namespace cvrig
