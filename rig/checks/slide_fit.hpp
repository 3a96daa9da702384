#pragma once

#include <optional>
#include <string>

#include "analysis/glide.hpp"
#include "analysis/tone.hpp"
#include "rig/checks/check.hpp"

namespace cvrig {

struct heard_slide {
    std::string name;
    analysis::outcome<analysis::glide_reading> glide;
    /// Where no law fits: how far it runs past its end, all the same.
    std::optional<analysis::overshoot_reading> rough_overshoot;
    std::size_t begins{0};  // first sample of the fitted record, in the passage
    seconds late{0.0};      // it sets off after its step
};

struct slide_bounds {
    std::size_t step;  // index of the slid step in the passage
    hertz from, to;
    double relative_u_from;
    const char* demand{"time constant"};  // the key that its time constant is held against
    std::optional<hertz> slid_before{};   // the step before is a slide, too, from this pitch
};

/// Fits the slide that starts with step `b.step`, as closely as the demanded time constant asks.
[[nodiscard]] heard_slide fit_slide(const check_request& wanted, const heard_passage& heard,
                                    const slide_bounds& b, std::string name);

/// Fits the slide of a passage that plays one note and slides to another.
[[nodiscard]] heard_slide fit_single_slide(const check_request& request, const heard_passage& heard,
                                           const voltage_step& s);

/// Pitch of the last `length` of a step.
[[nodiscard]] analysis::outcome<analysis::tone_reading> tail_pitch(const heard_passage& heard,
                                                                   std::size_t step, seconds length,
                                                                   hertz expected);

}  // namespace cvrig
