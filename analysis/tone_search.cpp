#include "analysis/tone_search.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <optional>

namespace cvrig::analysis {
namespace {

constexpr std::size_t most_peaks = 48;
constexpr std::size_t anchors = 6;  // strongest peaks whose fractions are tried
constexpr int deepest_fraction = 16;
constexpr double least_prominence = 14.0;  // peak over mean noise power: 1e-6 by chance
constexpr double half_width_cycles = 0.7;  // how far from its place a peak may be
constexpr double empty_price = 2.0;
constexpr double same_pitch = 0.03;

struct peak {
    double cycles{0};
    double power{0};
    double log_power{0};
    double evidence{0};  // ln(power / noise)
    bool hum{false};
};

/// Mean noise power from the lower quarter of the bins: that of an exponential law is 0.2877 of the
/// mean.
double noise_power(const std::vector<double>& power) {
    std::vector<double> sample;
    sample.reserve(power.size() / 4 + 1);
    for (std::size_t j = 0; j < power.size(); j += 4) sample.push_back(power[j]);
    const auto quarter = sample.begin() + static_cast<std::ptrdiff_t>(sample.size() / 4);
    std::nth_element(sample.begin(), quarter, sample.end());
    return *quarter / 0.2877;
}

/// Parabola through the logarithms of three bins.
peak interpolated(const std::vector<double>& power, std::size_t j, double bins_per_cycle) {
    const double a = std::log(power[j - 1]);
    const double b = std::log(power[j]);
    const double c = std::log(power[j + 1]);
    const double offset = 0.5 * (a - c) / (a - 2.0 * b + c);
    return {(static_cast<double>(j) + offset) / bins_per_cycle, power[j], b, 0.0, false};
}

/// Height that a side lobe of the search window can have beside a peak, as the logarithm of its
/// share of the peak's power: -32 dB at 3 cycles, falling by 9 dB for each cycle more; 6 dB are
/// added for notes that decay.
double log_side_lobe(double distance_cycles) {
    const double level_db = -26.0 - 9.0 * std::max(distance_cycles - 3.2, 0.0);
    return 0.1 * std::numbers::ln10 * std::max(level_db, -140.0);
}

std::vector<peak> strongest_peaks(const std::vector<double>& power, double bins_per_cycle,
                                  double floor) {
    std::vector<peak> all;
    for (std::size_t j = 2; j + 2 < power.size(); ++j)
        if (power[j] > floor * least_prominence && power[j] > power[j - 1] &&
            power[j] >= power[j + 1])
            all.push_back(interpolated(power, j, bins_per_cycle));
    std::sort(all.begin(), all.end(),
              [](const peak& a, const peak& b) { return a.power > b.power; });
    std::vector<peak> kept;
    for (const peak& p : all) {
        if (kept.size() == most_peaks) break;
        const bool lobe = std::any_of(kept.begin(), kept.end(), [&](const peak& k) {
            return p.log_power < k.log_power + log_side_lobe(std::abs(p.cycles - k.cycles));
        });
        if (!lobe) kept.push_back(p);
    }
    return kept;
}

void judge(std::vector<peak>& peaks, double floor, double mains_cycles) {
    for (peak& p : peaks) {
        p.evidence = std::log(p.power / floor);
        if (mains_cycles <= 0.0) continue;
        const double order = std::round(p.cycles / mains_cycles);
        p.hum = order >= 1.0 && order <= 3.0 &&
                std::abs(p.cycles - order * mains_cycles) <
                    half_width_cycles + 0.004 * order * mains_cycles;
    }
}

/// The comb is refined as it climbs: each matched peak narrows the pitch for the next one.
pitch_candidate scored(const std::vector<peak>& by_frequency, double cycles) {
    pitch_candidate candidate{cycles, 0.0, 1};
    double moment = 0.0;
    double inertia = 0.0;
    double last = 0.0;
    for (const peak& p : by_frequency) {
        const double order = std::max(1.0, std::round(p.cycles / candidate.cycles));
        const double miss = std::abs(p.cycles - order * candidate.cycles);
        const double worth = p.hum ? 0.25 * p.evidence : p.evidence;
        const double width = std::min(half_width_cycles, 0.3 * candidate.cycles);
        // Worth nothing on average for a peak that falls anywhere between two harmonics.
        const double share = miss / (0.5 * candidate.cycles);
        // A peak of chance far above the others is none of theirs, whatever its place.
        const double empty = std::max(order - last - 1.0, 0.0);
        const double explained = worth * (1.0 - 3.0 * share * share) - empty_price * empty;
        const double foreign = p.hum ? 0.0 : -0.5 * p.evidence;
        if (miss > width || explained < foreign) {
            candidate.score += foreign;
            continue;
        }
        candidate.score += explained;
        moment += worth * order * p.cycles;
        inertia += worth * order * order;
        candidate.cycles = (moment + 4.0 * cycles) / (inertia + 4.0);
        last = std::max(last, order);
    }
    candidate.cycles = inertia > 0.0 ? moment / inertia : cycles;
    return candidate;
}

/// The highest harmonic that stands out, with the gaps below it.
std::size_t visible_harmonics(const std::vector<double>& power, double bins_per_cycle, double floor,
                              double cycles) {
    const double bins = cycles * bins_per_cycle;
    const auto most = static_cast<std::size_t>(
        std::max(1.0, std::floor((static_cast<double>(power.size()) - 6.0) / bins)));
    std::size_t top = 1;
    for (std::size_t k = 1; k <= most; ++k) {
        const auto j = static_cast<std::size_t>(std::lround(static_cast<double>(k) * bins));
        const double height = std::max({power[j - 1], power[j], power[j + 1]});
        if (height > 8.0 * floor) top = k;
        if (k > top + 12) break;
    }
    return top;
}

}  // namespace

std::vector<pitch_candidate> find_pitches(const continuous_spectrum& spectrum,
                                          const search_range& range) {
    const std::vector<double> power = spectrum.windowed_power();
    const double bins_per_cycle = spectrum.bins_per_cycle();
    const double floor = std::max(noise_power(power), 1e-300);
    // Of a record without noise, what is 90 dB down is the search window's and no peak.
    const double visible =
        std::max(floor, 1e-9 / least_prominence * *std::max_element(power.begin(), power.end()));
    std::vector<peak> peaks = strongest_peaks(power, bins_per_cycle, visible);
    judge(peaks, visible, range.mains);
    std::vector<double> trials;
    for (std::size_t i = 0; i < std::min(peaks.size(), anchors); ++i)
        for (int q = 1; q <= deepest_fraction; ++q) {
            const double cycles = peaks[i].cycles / q;
            if (cycles >= range.lowest && cycles <= range.highest) trials.push_back(cycles);
        }
    std::sort(peaks.begin(), peaks.end(),
              [](const peak& a, const peak& b) { return a.cycles < b.cycles; });
    std::vector<pitch_candidate> all;
    all.reserve(trials.size());
    for (const double cycles : trials) all.push_back(scored(peaks, cycles));
    std::sort(all.begin(), all.end(),
              [](const pitch_candidate& a, const pitch_candidate& b) { return a.score > b.score; });
    std::vector<pitch_candidate> distinct;
    for (pitch_candidate& c : all) {
        if (c.cycles < range.lowest * 0.9 || c.cycles > range.highest * 1.1) continue;
        const bool known =
            std::any_of(distinct.begin(), distinct.end(), [&](const pitch_candidate& d) {
                return std::abs(d.cycles / c.cycles - 1.0) < same_pitch;
            });
        if (known) continue;
        c.harmonics = visible_harmonics(power, bins_per_cycle, floor, c.cycles);
        distinct.push_back(c);
        if (distinct.size() == 4) break;
    }
    return distinct;
}

}  // namespace cvrig::analysis
