#pragma once

#include <string_view>
#include <vector>

#include "analysis/wave_profile.hpp"
#include "rig/checks/check.hpp"

/// What the waveform check makes of a profile.
namespace cvrig {

[[nodiscard]] std::string_view name_of(analysis::classic_wave which) noexcept;

/// The profile of the held note at one jack.
[[nodiscard]] analysis::outcome<analysis::wave_profile> heard_profile(const check_request& request,
                                                                      const heard_passage& heard,
                                                                      std::size_t jack);

/// Which wave a profile shows, with the odds.
///
/// Definition: the even share of each wave is taken as normally distributed about its theory, with
///             the reading's uncertainty and 0.08 for how exactly a module blends; equal odds
///             before. A profile farther than -6 dB from all three is none of them.
/// Source:     Bayes' rule; the 0.08 and the -6 dB are ours, with no source.
struct named_wave {
    analysis::classic_wave closest;
    bool is_any{true};
    std::vector<double> odds;  ///< saw, blend, square

    [[nodiscard]] double odds_of(std::string_view name) const noexcept;
};
[[nodiscard]] named_wave name_wave(const analysis::wave_profile& profile);

/// Harmonics as heard against theory.
[[nodiscard]] plot profile_plot(const check_request& request,
                                const std::vector<analysis::wave_profile>& profiles);

}  // namespace cvrig
