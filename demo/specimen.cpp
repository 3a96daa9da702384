#include "demo/specimen.hpp"

#include "demo/noise.hpp"

#include <cmath>

namespace ferrule {
namespace {

double ratio_of_db(double db) {
    return std::pow(10.0, db / 20.0);
}

/// No unit is so good that it could do without its calibration: 0.4 % to 1.2 % either way.
double pitch_gain(noise_source& spread) {
    const double drawn = spread.uniform();
    return 1.0 + std::copysign(0.004, drawn) + 0.008 * drawn;
}

/// Control inputs are never calibrated: 1 % resistors in the divider, a few millivolts of offset.
converter_traits control_input(noise_source& spread) {
    converter_traits traits;
    traits.gain = 1.0 + 0.005 * spread.uniform();
    traits.offset_volts = 0.004 * spread.uniform();
    return traits;
}

}  // namespace

specimen make_specimen(std::uint32_t unit) noexcept {
    // A batch of which no unit is freakishly good or bad, and the author's is a typical one.
    constexpr std::uint64_t batch = 1597;
    noise_source spread{batch * 1000003ULL + unit};
    specimen made;
    made.unit = unit;
    made.pitch.gain = pitch_gain(spread);
    made.pitch.offset_volts = 0.012 * spread.uniform();
    made.pitch.curvature_per_volt = 0.00003 * spread.uniform();
    made.cutoff = control_input(spread);
    made.decay = control_input(spread);
    made.gate_trip_volts = 1.5 + 0.1 * spread.uniform();
    made.clock_ratio = 1.0 + 30e-6 * spread.uniform();
    for (auto& gain : made.output_gain) gain = ratio_of_db(0.01 * spread.uniform());
    for (auto& dc : made.output_dc_volts) dc = 0.004 * spread.uniform();
    return made;
}

}  // namespace ferrule
