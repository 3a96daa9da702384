#pragma once

#include <string>
#include <vector>

#include "rig/fleet/fleet.hpp"
#include "rig/run/result.hpp"

/// What is said about a fleet, once, for every report: so that they never contradict each other.
namespace cvrig::report {

/// A table in words; the first cell of a row is its head.
struct fleet_table {
    std::string title;
    std::vector<std::string> head;
    std::vector<std::vector<std::string>> rows;
    std::vector<std::string> notes;  ///< how to read it, one sentence each
};

/// Answers to one question.
struct fleet_chapter {
    std::string heading;
    std::vector<std::string> answers;  ///< one to three sentences each
};

struct fleet_story {
    std::string title;                    ///< "Ferrule, build good: 30 units"
    std::string circumstances;            ///< settings and range
    std::vector<fleet_chapter> chapters;  ///< what is asked most first; none is empty
    std::vector<fleet_table> tables;
    std::vector<plot> plots;
    std::vector<std::string> remarks;

    /// All answers, one after the other.
    [[nodiscard]] std::vector<std::string> answers() const;
};

[[nodiscard]] fleet_story story_of(const fleet_answer& a);

/// The parts of it, each in a file of its own.
[[nodiscard]] std::vector<std::string> words_on_defaults(const fleet_answer& a);
[[nodiscard]] std::vector<std::string> words_on_unseen(const fleet_answer& a);
[[nodiscard]] std::vector<std::string> words_on_odd_units(const fleet_answer& a);
[[nodiscard]] std::vector<std::string> words_on_scatter(const fleet_answer& a);
[[nodiscard]] std::vector<std::string> words_on_builds(const fleet_answer& a);

[[nodiscard]] std::vector<fleet_table> tables_of_defaults(const fleet_answer& a);
[[nodiscard]] std::vector<fleet_table> tables_of_units(const fleet_answer& a);
[[nodiscard]] std::vector<fleet_table> tables_of_builds(const fleet_answer& a);

[[nodiscard]] std::vector<plot> plots_of(const fleet_answer& a);

/// "+8.2 cent", with as many digits as are worth reading.
[[nodiscard]] std::string signed_cents(double cents);
/// The same without a plus.
[[nodiscard]] std::string plain_cents(double cents);
/// "97.2 ± 0.5", "8.00 ± 0.02": a number of cents and its expanded uncertainty.
[[nodiscard]] std::string uncertain_number(double cents, double expanded_cents);
/// "0 %", "85 %", "99.7 %".
[[nodiscard]] std::string per_cent(double share);
/// "28 of 30", or "27 to 28 of 30" where some lie too near to the limit.
[[nodiscard]] std::string counted_in_words(const kept_count& c);
/// "as it is", "minimax", "median".
[[nodiscard]] std::string_view in_words(default_kind kind) noexcept;
/// "multiply both constants by 0.99805, then add -1.23 mV to the offset".
[[nodiscard]] std::string change_in_words(const constants_change& c);

}  // namespace cvrig::report
