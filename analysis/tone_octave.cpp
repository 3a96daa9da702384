#include "analysis/tone_octave.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

#include "analysis/tone_state.hpp"

namespace cvrig::analysis {
namespace {

// Harmonics that the model leaves out colour the residual; the search resolves them by itself when
// they are further apart than this.
constexpr double crowded_cycles = 16.0;
constexpr double suspicious_colour = 3.0;
constexpr double telling_fall = 0.4;
// Of 250 notes that were an octave or more too high, the strongest line between the harmonics was
// below this share of the residual near them in 5; where the pitch was right, it mostly was.
constexpr double telling_line = 0.5;
constexpr std::size_t few_harmonics = 64;  // a fit of so few costs little more than the question
// More than this share of the power is never taken for noise.
constexpr double most_noise_share = 1e-4;

double cycles_of(const tone_fit& fit) {
    return fit.lines.pitch / std::numbers::pi;
}

/// Residual variance as it is near the harmonics.
double local_variance(const tone_fit& fit) {
    return fit.variance * std::max(fit.colour, 1.0);
}

/// Do the harmonics that are no multiples of q hold nothing but noise?
bool only_multiples_speak(const tone_fit& fit, double samples, std::size_t q) {
    double others = 0.0;
    double all = 0.0;
    double count = 0.0;
    for (Eigen::Index k = 0; k < fit.amplitudes.harmonics.size(); ++k) {
        const double power = std::norm(fit.amplitudes.harmonics(k));
        all += power;
        if (static_cast<std::size_t>(k + 1) % q == 0) continue;
        others += power;
        count += 1.0;
    }
    // Noise alone gives each squared amplitude a mean of 4 variance / samples, exponentially
    // spread.
    const double noise = 4.0 * local_variance(fit) / samples;
    return others < most_noise_share * all &&
           others < noise * (count + 6.0 * std::sqrt(count) + 10.0);
}

/// The same tone as one of a q-th of the pitch.
tone_state as_lower_tone(const continuous_spectrum& spectrum, const tone_start& start,
                         const tone_fit& fit, std::size_t q) {
    line_frequencies lines = fit.lines;
    lines.pitch /= static_cast<double>(q);
    lines.harmonics *= q;
    line_values amplitudes{fit.amplitudes.foreign, {}};
    amplitudes.harmonics.setZero(static_cast<Eigen::Index>(lines.harmonics));
    for (Eigen::Index k = 0; k < fit.amplitudes.harmonics.size(); ++k)
        amplitudes.harmonics((k + 1) * static_cast<Eigen::Index>(q) - 1) =
            fit.amplitudes.harmonics(k);
    return evaluate_tone(spectrum, start.energy, lines, amplitudes, cycle_fourier{lines.harmonics});
}

/// Does any line between the harmonics hold as much of the residual as is near them? If a lower
/// pitch is the true one, what colours the residual near the harmonics is but the side lobes of
/// such lines; if not, these lines hold but the side lobes of what is near the harmonics.
bool lines_between_speak(const tone_state& lower, const tone_fit& fit, std::size_t q) {
    const auto step = static_cast<Eigen::Index>(q);
    double strongest = 0.0;
    for (Eigen::Index k = 0; k < lower.level.harmonics.size(); k += step)
        strongest =
            std::max(strongest, lower.level.harmonics.segment(k, step - 1).abs2().maxCoeff());
    const double power = strongest / lower.basis.difference_product(0, 0).real();
    return power > telling_line * local_variance(fit);
}

tone_fit refitted(const continuous_spectrum& spectrum, const tone_start& start, const tone_fit& fit,
                  double ratio) {
    tone_start next = start;
    next.pitch = fit.lines.pitch * ratio;
    next.decay = fit.lines.decay;
    const double harmonics = static_cast<double>(fit.lines.harmonics) / ratio;
    next.harmonics =
        std::clamp<std::size_t>(static_cast<std::size_t>(harmonics), 1, start.most_harmonics);
    return fit_tone(spectrum, next);
}

}  // namespace

tone_fit fit_true_octave(const continuous_spectrum& spectrum, const tone_start& start,
                         double least_cycles, double highest_cycles) {
    tone_fit fit = fit_tone(spectrum, start);
    for (const std::size_t q : {2U, 3U, 5U}) {
        const double ratio = static_cast<double>(q);
        if (fit.colour < suspicious_colour || cycles_of(fit) > crowded_cycles ||
            cycles_of(fit) / ratio < least_cycles)
            continue;
        if (fit.lines.harmonics * q > few_harmonics &&
            !lines_between_speak(as_lower_tone(spectrum, start, fit, q), fit, q))
            continue;
        tone_fit lower = refitted(spectrum, start, fit, 1.0 / ratio);
        if (lower.converged && local_variance(lower) < telling_fall * local_variance(fit))
            fit = std::move(lower);
    }
    const double samples = static_cast<double>(spectrum.grid().samples);
    for (const std::size_t q : {2U, 3U, 5U, 7U})
        while (fit.lines.harmonics >= q &&
               cycles_of(fit) * static_cast<double>(q) <= highest_cycles &&
               only_multiples_speak(fit, samples, q))
            fit = refitted(spectrum, start, fit, static_cast<double>(q));
    return fit;
}

}  // namespace cvrig::analysis
