#include "rig/calibration/bench_support.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/calibration/allowed.hpp"

namespace cvrig {

namespace {

const bench_output& pitch_output(const bench& b, const module_expectations& m) {
    const auto found = std::ranges::find(b.outputs, "pitch", &bench_output::jack);
    if (found != b.outputs.end()) return *found;
    throw user_error{{{m.calibration->where,
                       fmt::format("A calibration needs known voltages at jack 'pitch', which no "
                                   "output of bench '{}' feeds.",
                                   b.name)}}};
}

/// Of a line through the voltages, in units of one voltage's uncertainty: the sum of the weights with
/// which each of them counts, whatever their signs.
double spread_at(const std::vector<volts>& all, double at_volts) {
    const auto n = static_cast<double>(all.size());
    double mean = 0.0;
    double squares = 0.0;
    for (const volts v : all) mean += v.value() / n;
    for (const volts v : all) squares += (v.value() - mean) * (v.value() - mean);
    double sum = 0.0;
    for (const volts v : all)
        sum += std::abs(1.0 / n + (v.value() - mean) * (at_volts - mean) / squares);
    return sum;
}

}  // namespace

bench_support support_of(const bench& b, const module_expectations& m) {
    const auto& rules = *m.calibration;
    const auto& output = pitch_output(b, m);
    const auto* jack = m.find_jack("pitch");
    const double cents_per_volt = 1200.0 / m.pitch.per_octave.value();
    bench_support out;
    double spread = 0.0;
    for (const volts end : {jack->low, jack->high}) {
        const double here = spread_at(rules.voltages, end.value());
        if (here <= spread) continue;
        spread = here;
        out.at_volts = end.value();
    }
    out.u_cents = spread * output.u.value() * cents_per_volt;
    out.wanted_cents = most_allowed(rules.error);
    out.most_u_volts = 0.5 * out.wanted_cents / (m.coverage_factor * spread * cents_per_volt);
    out.is_enough = m.coverage_factor * out.u_cents <= 0.5 * out.wanted_cents;
    return out;
}

void require_support(const bench& b, const module_expectations& m) {
    const auto s = support_of(b, m);
    if (s.is_enough) return;
    const auto& output = pitch_output(b, m);
    const double U = m.coverage_factor * s.u_cents;
    throw user_error{
        {{output.where,
          fmt::format(
              "The voltages at jack 'pitch' are known to {} (standard uncertainty), which "
              "makes a calibrated module uncertain by {} at {}; of the {} that the "
              "calibration wants, half must be left for the module. Trim this output with a "
              "better meter, to {} or less, or want no better than {}.",
              show(output.u.value(), dimension::volts, 2), show(U, dimension::cents, 2),
              show(s.at_volts, dimension::volts), show(s.wanted_cents, dimension::cents),
              show(s.most_u_volts, dimension::volts, 2), show(2.0 * U, dimension::cents, 2))}}};
}

}  // namespace cvrig
