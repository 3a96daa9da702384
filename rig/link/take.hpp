#pragma once

#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/settings.hpp"
#include "rig/stimulus/stimulus.hpp"

namespace cvrig {

/// One uninterrupted play-and-record: what was sent and what came back, both in volts.
struct take {
    stimulus sent;
    std::vector<std::string> heard_jacks;
    /// One channel a heard jack; empty if nothing came back.
    std::vector<std::vector<float>> heard;
    setting_choice choice;
    int number{1};                           ///< within the run, from 1
    int attempt{1};                          ///< of this number, from 1
    std::vector<std::string> problems;       ///< why it cannot be judged, one plain sentence each
    std::string skipped;                     ///< why it was not played, if it was not: one sentence
    std::vector<std::string> module_faults;  ///< what the module did that no build may do (a reset)
    std::vector<std::string> module_doubts;  ///< why such a thing may have gone unseen
    std::string log;                         ///< what the link and the console said while it played
    seconds wall{0.0};

    [[nodiscard]] bool is_good() const noexcept { return problems.empty(); }
};

/// A take of which nothing has come back yet.
[[nodiscard]] inline take begin_take(const stimulus& sent, const setting_choice& choice, int number,
                                     int attempt) {
    take out;
    out.sent = sent;
    out.choice = choice;
    out.number = number;
    out.attempt = attempt;
    return out;
}

}  // namespace cvrig
