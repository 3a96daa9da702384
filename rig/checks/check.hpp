#pragma once

#include <cstddef>
#include <span>
#include <string_view>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"
#include "rig/stimulus/render.hpp"

namespace cvrig {

/// What a check is asked to do: one entry of the expectation file with one choice of settings.
struct check_request {
    const module_expectations& module;
    const bench& desk;
    const check_expectation& wanted;
    setting_choice choice;
    int attempt{1};       ///< 2 and up: a retake, which may play longer
    std::size_t part{0};  ///< of a check that is played in takes of its own: which of them
};

/// What came back of one passage, in volts. Sample 0 is the passage's first sample as sent; the
/// record runs on into the silence after it, so that a late module is still heard.
struct heard_passage {
    passage asked;
    sample_rate rate;
    std::vector<std::size_t> step_starts;      ///< one for each step of `asked`
    std::size_t end;                           ///< first sample after the last step
    std::vector<std::vector<double>> volts;    ///< one record for each recorded jack
    std::vector<std::vector<double>> silence;  ///< the take's opening silence, for each jack
};

/// What is known of the build beside its sound: rig/checks/outside_facts.hpp.
struct outside_facts;

/// One family of measurements: what it understands in the file, plays and reads. Adding a check is
/// adding one file that defines such a value, and its line in all_checks().
struct check {
    check_spec spec;
    /// The passages to play; a passage equal to another check's is played once for both.
    std::vector<passage> (*plan)(const check_request&);
    /// Judges the passages of plan(), in the same order. Pure.
    check_result (*judge)(const check_request&, std::span<const heard_passage>);
    /// Of a check that hears nothing (image, console), instead of the two before. Pure.
    check_result (*judge_facts)(const check_request&, const outside_facts&){nullptr};
    /// Of a long check: in how many takes of its own it is played, each planned and judged by
    /// itself (`check_request::part`). They are rendered only while they play, so that hours need no
    /// more memory than minutes. Not given: it shares the take of its settings.
    std::size_t (*parts)(const check_request&){nullptr};
    /// Of such a check: what two results, of different parts, say together. Pure.
    check_result (*merge)(const check_request&, check_result so_far, check_result more){nullptr};
    /// Of a check that compares one choice of settings with another: called once after all takes,
    /// with the results of judge() in the order of the file's choices, doubtful and skipped ones
    /// among them. What it finds is a result of its own beside them. Not called where a filter left
    /// only one choice. Pure.
    std::vector<check_result> (*conclude)(const module_expectations&, const bench&,
                                          const check_expectation&,
                                          std::span<const check_result>){nullptr};
};

/// Every check there is, in the order in which reports show them.
[[nodiscard]] std::span<const check> all_checks();

/// The check of that name; null if there is none.
[[nodiscard]] const check* find_check(std::string_view name);

/// The specs of all checks, for reading an expectation file.
[[nodiscard]] std::vector<check_spec> all_specs();

}  // namespace cvrig
