#pragma once

#include "rig/report/groups.hpp"
#include "rig/report/markup.hpp"
#include "rig/run/result.hpp"

/// The parts of the page, in the order in which they stand on it.
namespace cvrig::report {

void add_summary(markup& page, const run_result& run, const run_layout& layout);
/// By check, what is surely not met; nothing for a run where nothing fails.
void add_failures(markup& page, const run_result& run, const run_layout& layout);
/// Check by choice of settings, each with its worst verdict; its row heads are the jump links.
void add_map(markup& page, const run_layout& layout);
void add_checks(markup& page, const run_result& run, const run_layout& layout);
/// One plot and the same in numbers; `choice` says what it is of.
void add_plot(markup& page, const plot& p, const std::string& choice, double coverage_factor);
void add_plots(markup& page, const check_group& group, const run_layout& layout,
               double coverage_factor);
void add_takes(markup& page, const run_result& run, const run_layout& layout);
/// How the build was made and flashed; nothing for a bench that does neither.
void add_preparation(markup& page, const run_result& run);
/// What the rig proved of itself; nothing for a run without a live bench.
void add_bench(markup& page, const run_result& run);
void add_rule(markup& page, const run_result& run);
void add_cautions(markup& page);
void add_provenance(markup& page, const run_result& run, std::string_view plot_licence);

/// A verdict as sign and word in its colour.
void add_verdict(markup& page, verdict v);

/// "check-1": names come from files and are no safe anchors.
[[nodiscard]] std::string anchor_of(const check_group& group, const run_layout& layout);

}  // namespace cvrig::report
