#pragma once

#include <cstddef>
#include <optional>
#include <set>
#include <string>
#include <vector>

#include "rig/checks/check.hpp"
#include "rig/stimulus/render.hpp"

namespace cvrig {

/// One check in one choice of settings, with what it plays.
struct planned_check {
    const check* what{nullptr};
    const check_expectation* wanted{nullptr};
    setting_choice choice;
    int attempt{1};
    std::size_t passage_count{0};
    std::size_t first_passage{0};   ///< its first one in the take's score
    std::size_t part{0};            ///< of a check in takes of its own
    std::set<std::string> moved{};  ///< jacks beside pitch and gate that its steps move
};

/// One take: everything that is played with one choice of settings.
struct planned_take {
    setting_choice choice;
    int attempt{1};
    std::vector<planned_check> checks;
    score played;  ///< empty if it is rendered later
    /// The length of a take that is rendered only while it plays: rendered().
    std::optional<seconds> rendered_later{};

    [[nodiscard]] seconds length() const;
};

/// All takes of a run, made before the first one sounds.
struct run_plan {
    std::vector<planned_take> takes;
    /// Checks that hear nothing: once each, with the first choice of settings, in file order.
    std::vector<planned_check> by_facts{};

    [[nodiscard]] seconds sound() const;
};

/// Which part of an expectation file to run; empty lists mean all.
struct run_filter {
    std::vector<std::string> checks;
    setting_choice settings;  ///< only choices that have these values
};

/// Plans the takes: one for each choice of settings, in file order, with the passages of all
/// checks, and behind it those of the checks that have takes of their own. `m` must outlive the
/// plan. Throws user_error if a voltage lies outside the bench's limits or the filter leaves
/// nothing.
[[nodiscard]] run_plan plan_run(const module_expectations& m, const bench& b,
                                const run_filter& filter = {});

/// What a take plays, if it was to be rendered later.
[[nodiscard]] score rendered(const planned_take& take, const module_expectations& m,
                             const bench& b);

/// One more take for the given checks, each at its next attempt.
[[nodiscard]] planned_take plan_retake(const module_expectations& m, const bench& b,
                                       std::vector<planned_check> again);

}  // namespace cvrig
