#pragma once

#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/expectations.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// What a rule may look at: one failed result, and all the others of the run.
struct evidence {
    const check_result& result;
    std::span<const check_result> run;
    const module_expectations& module;

    [[nodiscard]] bool failed(std::string_view demand) const;
    /// Whether nothing else of the result failed.
    [[nodiscard]] bool only_failed(std::string_view demand) const;
    /// What was read for a demand; empty if nothing was, or the file does not ask.
    [[nodiscard]] std::span<const reading> readings(std::string_view demand) const;
    /// The only or worst reading of a demand; null if there is none.
    [[nodiscard]] const reading* worst(std::string_view demand) const;
    [[nodiscard]] const answer* answered(std::string_view demand) const;
    [[nodiscard]] const limit* allowed(std::string_view demand) const;
    /// Results of the same check in other settings.
    [[nodiscard]] std::vector<const check_result*> siblings() const;
    /// The result of another check in the same settings; null if there is none.
    [[nodiscard]] const check_result* beside(std::string_view check) const;
};

/// A cause that shows in one demand alone.
struct one_demand {
    const char* key;
    const char* cause;
    const char* sentence;  ///< {} stands for the worst reading
};

/// The first of them whose demand failed; they stand in the order in which they explain others.
[[nodiscard]] std::optional<diagnosis> first_of(const evidence& e,
                                                std::span<const one_demand> causes);

/// The worst reading of a demand in its unit; "?" if there is none.
[[nodiscard]] std::string text_of(const evidence& e, std::string_view demand);
/// Where that was.
[[nodiscard]] std::string place_of(const evidence& e, std::string_view demand);

/// One rule, or a whole family of them: what it makes of the evidence, if anything.
using diagnosis_rule = std::optional<diagnosis> (*)(const evidence&);

/// Rules that look at the whole run come first: one cause of many failures.
[[nodiscard]] std::optional<diagnosis> diagnose_whole_run(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_tracking(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_slide(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_retrigger(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_accent(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_envelope(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_level(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_stereo(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_waveform(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_noise(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_clicks(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_latency(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_gate(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_range(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_pattern(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_image(const evidence& e);
[[nodiscard]] std::optional<diagnosis> diagnose_console(const evidence& e);

/// What `here` has and `there` has not: "mode tied, waveform square".
[[nodiscard]] std::string difference_in_words(const setting_choice& here,
                                              const setting_choice& there);

/// "+3.1 dB": to a tenth.
[[nodiscard]] std::string decibels_text(double in_decibels);

/// "+3.1 %", "-12 cent": a number that may go either way, with its sign.
[[nodiscard]] std::string signed_text(double in_base_unit, dimension d, int digits = 3);

}  // namespace cvrig
