#include <rapidcheck/catch.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>

#include "analysis/harmonics.hpp"
#include "analysis/level.hpp"
#include "analysis/release.hpp"
#include "analysis/spectrum.hpp"
#include "analysis/stereo.hpp"
#include "synthesis.hpp"

using namespace cvrig;
using namespace cvrig::analysis;

// What a dead, stuck or unstable module sends must end in a number or in a refusal.
namespace {

constexpr sample_rate rate{48000};

std::vector<double> odd_record(std::size_t samples) {
    const auto seed = static_cast<unsigned long long>(*rc::gen::inRange(1, 1'000'000));
    // From rounding noise to the largest number of a 32-bit float file.
    auto x = synthesis::noise(samples, std::pow(10.0, *rc::gen::inRange(-30, 38)), seed);
    switch (*rc::gen::inRange(0, 5)) {
        case 0:
            return x;
        case 1:
            return std::vector<double>(samples, x[0]);  // stuck
        case 2:                                         // one click
            x.assign(samples, 0.0);
            x[seed % samples] = 1.0;
            return x;
        case 3:  // dies half-way
            std::fill(x.begin() + static_cast<std::ptrdiff_t>(samples / 2), x.end(), 0.0);
            return x;
        default:  // between two values
            for (double& v : x) v = v > 0 ? 1.0 : -1.0;
            return x;
    }
}

bool finite(std::initializer_list<double> numbers) {
    return std::all_of(numbers.begin(), numbers.end(), [](double v) { return std::isfinite(v); });
}

}  // namespace

TEST_CASE("any record ends in finite numbers or in a refusal", "[analysis][property]") {
    rc::prop("level, spectrum and harmonics", [] {
        const auto x = odd_record(static_cast<std::size_t>(*rc::gen::inRange(1, 3000)));
        if (const auto r = measure_level(x))
            RC_ASSERT(finite({r->rms.value(), r->dc.value(), r->ac_rms.value(), r->u_rms.value(),
                              r->level().value(), r->crest_factor()}));
        if (const auto r = amplitude_spectrum(x, rate, window_kind::hann))
            for (const double v : r->volts) RC_ASSERT(std::isfinite(v));
        if (const auto r = harmonic_levels(x, rate, hertz{100}, 5)) {
            RC_ASSERT(finite({r->dc.value(), r->residual_rms.value(), r->u_peak.value()}));
            for (const auto& h : r->harmonics) RC_ASSERT(finite({h.peak.value(), h.phase_radians}));
        }
    });
    rc::prop("stereo", [] {
        const auto samples = static_cast<std::size_t>(*rc::gen::inRange(1000, 3000));
        const auto left = odd_record(samples);
        const auto right = *rc::gen::inRange(0, 3) ? odd_record(samples) : left;
        const seconds longest{*rc::gen::inRange(0, 100) / 1000.0};
        if (const auto r = compare_channels(left, right, rate, {.longest_delay = longest}))
            RC_ASSERT(
                finite({r->gain_difference.value(), r->u_gain.value(), r->delay.value(),
                        r->u_delay.value(), r->null_depth.value(), r->aligned_null_depth.value()}));
    });
    rc::prop("gain course, release, tail and second strike", [] {
        const auto x = odd_record(static_cast<std::size_t>(*rc::gen::inRange(1, 9000)));
        const auto silence = odd_record(static_cast<std::size_t>(*rc::gen::inRange(1, 100)));
        const seconds falls{*rc::gen::inRange(0, 150) / 1000.0};
        if (const auto course = track_gain(
                x, silence, rate,
                {hertz{110}, seconds{0.02}, falls, falls + seconds{0.08}, seconds{0.0005}})) {
            for (const auto& p : *course) RC_ASSERT(finite({p.at.value(), p.gain, p.u_gain}));
            if (const auto r = measure_release(*course, falls))
                RC_ASSERT(finite({r->begins.value(), r->time_constant.value(),
                                  r->u_time_constant.value(), r->fit_residual.value()}));
            if (const auto r = measure_tail(*course, falls))
                RC_ASSERT(finite({r->smooth_to.value(), r->u_smooth_to.value()}));
            if (const auto r = measure_restrike(*course, falls, falls + seconds{0.005}))
                RC_ASSERT(finite({r->drop.value(), r->u_drop.value(), r->at.value()}));
        }
    });
}
