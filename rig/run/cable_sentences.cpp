#include "rig/run/cable_sentences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

#include "rig/bench/sockets.hpp"

namespace cvrig::patching {

namespace {

std::size_t cables_from(const std::vector<cable>& all, std::size_t output) {
    return static_cast<std::size_t>(
        std::count_if(all.begin(), all.end(), [&](auto c) { return c.output == output; }));
}

std::size_t cables_to(const std::vector<cable>& all, std::size_t jack_of) {
    return static_cast<std::size_t>(
        std::count_if(all.begin(), all.end(), [&](auto c) { return c.jack_of == jack_of; }));
}

bool is_single(const std::vector<cable>& all, const cable& c) {
    return cables_from(all, c.output) == 1 && cables_to(all, c.jack_of) == 1;
}

// The single cable from an output, if there is just one and it is alone at its jack.
std::optional<cable> single_from(const std::vector<cable>& all, std::size_t output) {
    for (const auto& c : all)
        if (c.output == output && is_single(all, c)) return c;
    return std::nullopt;
}

// Outputs whose cables are exchanged in a round that begins with `first`; empty for no round.
std::vector<std::size_t> round_of(const std::vector<cable>& all, std::size_t first) {
    std::vector<std::size_t> out;
    for (std::size_t at = first; out.size() <= all.size();) {
        out.push_back(at);
        const auto next = single_from(all, at);
        if (!next) return {};
        if (next->jack_of == first) return out;
        at = next->jack_of;
    }
    return {};
}

std::string about_round(const bench& b, const std::vector<cable>& all,
                        std::vector<std::size_t> outputs) {
    std::sort(outputs.begin(), outputs.end());
    std::vector<std::string> names;
    std::string ways;
    for (const auto o : outputs) {
        names.push_back(b.outputs[o].jack);
        ways +=
            fmt::format("{}{}{} to jack {}", ways.empty() ? "" : ", ", socket_of(b.outputs[o]),
                        ways.empty() ? " goes" : "", b.outputs[single_from(all, o)->jack_of].jack);
    }
    return outputs.size() == 2
               ? fmt::format("The cables of {} are exchanged: {}. Exchange them at one end.",
                             list_of(names), ways)
               : fmt::format("The cables of {} are mixed up: {}. Put each where its name is.",
                             list_of(names), ways);
}

std::string about_one(const bench& b, const std::vector<cable>& all, const cable& c,
                      bool was_heard) {
    const auto& o = b.outputs[c.output];
    const auto& wrong = b.outputs[c.jack_of].jack;
    const bool right_as_well =
        std::find(all.begin(), all.end(), cable{c.output, c.output}) != all.end();
    if (right_as_well)
        return fmt::format("{} goes to jack {} and to jack {} as well: take it out of jack {}.",
                           socket_of(o), o.jack, wrong, wrong);
    if (!was_heard)
        return fmt::format(
            "{} goes to jack {}, where only {} belongs: take it out of there and "
            "check again.",
            socket_of(o), wrong, socket_of(b.outputs[c.jack_of]));
    return fmt::format("{} goes to jack {} instead of jack {}: put it there.", socket_of(o), wrong,
                       o.jack);
}

std::string socket_at(const bench& b, const std::string& jack) {
    for (const auto& i : b.inputs)
        if (i.jack == jack) return socket_of(i);
    return jack;
}

std::string about_input(const bench& b, const std::string& jack,
                        const std::vector<std::string>& at) {
    if (at.empty())
        return fmt::format(
            "Jack {} of the module is heard at no input when it sounds alone: its "
            "cable is missing, or it is silent.",
            jack);
    std::vector<std::string> sockets;
    sockets.reserve(at.size());
    for (const auto& i : at) sockets.push_back(socket_at(b, i));
    return fmt::format("Jack {} of the module is heard at {} instead of {} alone.", jack,
                       list_of(sockets), socket_at(b, jack));
}

}  // namespace

std::string list_of(const std::vector<std::string>& words) {
    std::string out;
    for (std::size_t i = 0; i < words.size(); ++i) {
        if (i > 0) out += i + 1 == words.size() ? " and " : ", ";
        out += words[i];
    }
    return out;
}

std::vector<std::string> sentences_about(const bench& b, const std::vector<cable>& found,
                                         const std::function<bool(std::size_t output)>& was_heard) {
    std::vector<std::string> out;
    std::vector<std::size_t> said;
    for (const auto& c : found) {
        if (c.output == c.jack_of) continue;
        if (std::find(said.begin(), said.end(), c.output) != said.end()) continue;
        const auto round = round_of(found, c.output);
        if (round.empty()) {
            out.push_back(about_one(b, found, c, was_heard(c.output)));
        } else {
            said.insert(said.end(), round.begin(), round.end());
            out.push_back(about_round(b, found, round));
        }
    }
    return out;
}

std::vector<std::string> sentences_about_inputs(
    const bench& b, const std::map<std::string, std::vector<std::string>>& heard_at,
    const std::function<bool(const std::string& jack)>& is_silent) {
    std::vector<std::pair<std::string, std::string>> moved;
    std::vector<std::string> out;
    for (const auto& [jack, at] : heard_at) {
        if (at == std::vector{jack}) continue;
        if (at.size() == 1)
            moved.emplace_back(jack, at[0]);
        else if (!at.empty() || !is_silent(jack))
            out.push_back(about_input(b, jack, at));
    }
    if (moved.size() == 2 && moved[0].first == moved[1].second &&
        moved[1].first == moved[0].second) {
        out.push_back(fmt::format(
            "The cables from {} and {} are exchanged: jack {} arrives at {}, jack {} at {}. "
            "Exchange them at one end.",
            moved[0].first, moved[1].first, moved[0].first, socket_at(b, moved[0].second),
            moved[1].first, socket_at(b, moved[1].second)));
        return out;
    }
    for (const auto& [jack, at] : moved) out.push_back(about_input(b, jack, {at}));
    return out;
}

}  // namespace cvrig::patching
