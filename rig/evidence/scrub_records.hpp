#pragma once

#include <string>
#include <string_view>

#include "rig/evidence/scrub.hpp"

/// What a run wrote beside its sounds, made fit to be given away. What judging goes by (names of checks,
/// settings, jacks and findings, limits, numbers) is the same afterwards.
namespace cvrig::evidence {

/// A `cvrig report 1`: every sentence, log and name scrubbed, the two files named as the members of
/// evidence, and the link as `link` says it.
///
/// Refuses: throws user_error if it is no JSON. `file` is where it lies, for the sentence.
[[nodiscard]] scrubbed_text scrubbed_report(std::string_view text, const std::string& file,
                                            const std::string& link, const private_names& names);

/// The description of a kept take (take.json), with the stimulus said to be within `sent_within`
/// volts of what was sent. Refuses: as above.
[[nodiscard]] scrubbed_text scrubbed_take(std::string_view text, const std::string& file,
                                          double sent_within_volts, const private_names& names);

/// What is known beside the takes (facts.json); the firmware file is no longer named. Without
/// `has_image`, a sentence stands in its place. Refuses: as above.
[[nodiscard]] scrubbed_text scrubbed_facts(std::string_view text, const std::string& file,
                                           bool has_image, const private_names& names);

/// What a run was asked (run.json). Refuses: as above.
[[nodiscard]] scrubbed_text scrubbed_run(std::string_view text, const std::string& file,
                                         const private_names& names);

/// A run.log with the seconds since its first line in place of the time of day, which would tell the
/// time zone; every line scrubbed.
[[nodiscard]] scrubbed_text scrubbed_log(std::string_view text, const private_names& names);

}  // namespace cvrig::evidence
