#include <algorithm>
#include <cmath>
#include <numbers>

#include "analysis/strike_tracks.hpp"

namespace cvrig::analysis {
namespace {

constexpr seconds knot{0.001};
constexpr seconds frame_hop{0.002};
constexpr seconds before_step{0.030};

/// A guess: an exponential glide in the logarithm of the pitch, starting `lag` after the step.
pitch_line glide(hertz from, hertz to, seconds step_at, seconds lag, seconds tau, seconds until) {
    pitch_line line{step_at - before_step, knot, {}};
    const auto knots = static_cast<std::size_t>((until - line.start) / knot) + 1;
    const double octaves = std::log(from / to);
    for (std::size_t i = 0; i < knots; ++i) {
        const double u = (line.start + static_cast<double>(i) * knot - step_at - lag).value();
        const double left = u > 0.0 ? std::exp(-u / tau.value()) : 1.0;
        line.pitch_hz.push_back(to.value() * std::exp(octaves * left));
    }
    return line;
}

std::vector<double> frame_times(seconds from, seconds to) {
    std::vector<double> out;
    for (double t = from.value(); t <= to.value(); t += frame_hop.value()) out.push_back(t);
    return out;
}

double strength(const harmonic_frames& frames) {
    double sum = 0.0;
    for (const auto& line : frames.lines_v) sum += std::abs(line);
    return sum;
}

/// Moving mean over five frames, twice.
void smooth(std::vector<double>& x) {
    for (int round = 0; round < 2; ++round) {
        const std::vector<double> old = x;
        const auto n = static_cast<std::ptrdiff_t>(x.size());
        for (std::ptrdiff_t i = 0; i < n; ++i) {
            double sum = 0.0;
            for (std::ptrdiff_t k = i - 2; k <= i + 2; ++k) {
                sum += old[static_cast<std::size_t>(std::clamp<std::ptrdiff_t>(k, 0, n - 1))];
            }
            x[static_cast<std::size_t>(i)] = sum / 5.0;
        }
    }
}

/// Adds the fundamental's phase advance to the pitch line, limited to a few percent a round.
void correct(pitch_line& line, const harmonic_frames& frames, std::span<const double> at_s) {
    std::vector<double> drift(frames.size(), 0.0);
    for (std::size_t i = 1; i < frames.size(); ++i) {
        const auto turn = frames.frame(i)[0] * std::conj(frames.frame(i - 1)[0]);
        drift[i] = std::arg(turn) / (2 * std::numbers::pi * frame_hop.value());
    }
    smooth(drift);
    const pitch_line shift{seconds{at_s.front() - frame_hop.value() / 2}, frame_hop, drift};
    for (std::size_t i = 0; i < line.pitch_hz.size(); ++i) {
        double& pitch = line.pitch_hz[i];
        const hertz move = pitch_at(shift, line.start + static_cast<double>(i) * line.spacing);
        pitch += std::clamp(move.value(), -0.06 * pitch, 0.06 * pitch);
    }
}

}  // namespace

pitch_line follow_step(const strike_case& c, hertz from, hertz to, const cycle_plan& plan) {
    const seconds step_at = c.struck_at + c.wait;
    const seconds length{static_cast<double>(c.step.size()) / c.rate.value()};
    const seconds until = std::min(length, step_at + seconds{0.35});
    const cycle_plan coarse{plan.cycles, 16, 3};
    const auto search_s =
        frame_times(step_at - seconds{0.015}, std::min(until, step_at + seconds{0.12}));
    pitch_line best = glide(from, to, step_at, seconds{0.0}, seconds{0.0004}, until);
    if (from == to) return best;
    double most = 0.0;
    for (const double tau_s : {0.0004, 0.004, 0.010, 0.022, 0.045, 0.075}) {
        for (const double lag_s : {0.0, 0.004}) {
            const auto line = glide(from, to, step_at, seconds{lag_s}, seconds{tau_s}, until);
            const double found = strength(harmonics_at(c.step, c.rate, line, coarse, search_s));
            if (found > most) {
                most = found;
                best = line;
            }
        }
    }
    const auto at_s = frame_times(step_at - before_step, until - seconds{0.004});
    for (int round = 0; round < 3; ++round) {
        correct(best, harmonics_at(c.step, c.rate, best, {plan.cycles, 16, 1}, at_s), at_s);
    }
    return best;
}

}  // namespace cvrig::analysis
