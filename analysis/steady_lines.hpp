#pragma once

#include <optional>
#include <span>
#include <vector>

#include "analysis/line_reader.hpp"
#include "analysis/units.hpp"

/// Hum and whine: what sounds at steady frequencies where nothing should.
namespace cvrig::analysis {

struct steady_line {
    hertz frequency;
    volts peak;
    volts u;  ///< of each component of the amplitude, by the noise about it

    [[nodiscard]] line_level level() const noexcept { return level_of_line(peak, u); }
    /// Whether noise alone would hardly ever stand so high in any of so many places: a chance of 1
    /// in 10^6.
    [[nodiscard]] bool stands_out(double places = 1.0) const noexcept;
};

/// The mains frequency within half a per cent of `nominal`, and the lines at its multiples.
///
/// Definition: the frequency at which sum over its multiples of |amplitude|^2 / u^2 is largest,
///             refined by a parabola; half a per cent is the range of a synchronous grid in normal
///             operation and more.
/// Source:     the log-likelihood of lines in white noise (Rife and Boorstyn 1974); EN 50160
///             (from memory) gives 1 % for 99.5 % of a year, and 0.2 Hz in all usual hours.
/// Input:      a record that resolves `nominal` (16 bins or more below it), else no lines.
/// Error:      0.05 dB of a line 30 dB above the noise.
[[nodiscard]] std::vector<steady_line> mains_lines(const line_reader& spectrum, hertz nominal,
                                                   std::size_t multiples);

/// The line with the most volts between two frequencies, `near` of none of the frequencies to leave
/// out; empty if the band has no bins. Noise has one too: it stands some 10 dB above the mean of
/// the bins.
[[nodiscard]] std::optional<steady_line> loudest_line(const line_reader& spectrum, hertz lowest,
                                                      hertz highest,
                                                      std::span<const hertz> left_out, hertz near);

}  // namespace cvrig::analysis
