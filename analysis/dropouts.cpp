#include "analysis/dropouts.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/best_repeat.hpp"
#include "analysis/samples.hpp"

namespace cvrig::analysis {
namespace {

constexpr seconds shortest_gap = shortest_gap_found;
constexpr seconds beside{0.01};
constexpr double within_noise = 5.0;
constexpr double loud = peak_over_noise_for_gaps / within_noise;
// By these the periods beside a place are found: 25 ms are 40 Hz.
constexpr seconds compared{0.004}, longest_period{0.025};
// Of a run, this has to be unlike the periods beside it.
constexpr double least_unlike = 0.5;  // of shortest_gap
constexpr cvrig::volts least_noise{1e-7};

bool is_loud(std::span<const double> x, double centre, double least) {
    return std::ranges::any_of(x, [&](double v) { return std::abs(v - centre) > least; });
}

std::span<const double> around(std::span<const double> x, std::ptrdiff_t from, std::ptrdiff_t to) {
    const auto n = static_cast<std::ptrdiff_t>(x.size());
    const auto first = std::clamp<std::ptrdiff_t>(from, 0, n);
    const auto last = std::clamp<std::ptrdiff_t>(to, first, n);
    return x.subspan(static_cast<std::size_t>(first), static_cast<std::size_t>(last - first));
}

struct run {
    std::size_t first, end;
};

/// What is no gap although it lies within the noise: a wave crosses zero, some of them slowly.
class wave_around {
public:
    wave_around(std::span<const double> x, sample_rate rate, double dc, double least,
                hertz highest_pitch)
        : x_{x},
          dc_{dc},
          least_{least},
          compared_{static_cast<std::size_t>(compared.value() * rate.value())},
          shortest_{static_cast<std::size_t>(0.9 * rate.value() / highest_pitch.value())},
          longest_{static_cast<std::size_t>(longest_period.value() * rate.value())} {}

    /// For each sample of the run, whether the wave would be within the noise there: in the period
    /// before or in that behind.
    [[nodiscard]] std::vector<bool> own(const run& r) const {
        const auto before = best_repeat(x_, {r.first > compared_ ? r.first - compared_ : 0, r.first,
                                             shortest_, longest_, repeats::before});
        const auto behind = best_repeat(x_, {r.end, std::min(x_.size(), r.end + compared_),
                                             shortest_, longest_, repeats::behind});
        std::vector<bool> out;
        for (std::size_t i = r.first; i < r.end; ++i) {
            // Not the run itself, if it is longer than a period.
            const bool has_before = before && i >= *before && i - *before < r.first;
            const bool has_behind = behind && i + *behind < x_.size() && i + *behind >= r.end;
            // One will do: a note that dies away is quieter in the one behind.
            out.push_back((has_before && is_quiet(i - *before)) ||
                          (has_behind && is_quiet(i + *behind)));
        }
        return out;
    }

private:
    // Or one of its neighbours: noise moves the edge of a crossing.
    [[nodiscard]] bool is_quiet(std::size_t i) const {
        const std::size_t first = i > 0 ? i - 1 : 0, last = std::min(i + 1, x_.size() - 1);
        for (std::size_t k = first; k <= last; ++k)
            if (std::abs(x_[k] - dc_) <= least_) return true;
        return false;
    }

    std::span<const double> x_;
    double dc_, least_;
    std::size_t compared_, shortest_, longest_;
};

// The wave may cross zero at either end of a gap, so that the end lies anywhere within the crossing.
gap_in_sound measured(const run& r, const std::vector<bool>& own, sample_rate rate) {
    const auto at_first = std::ranges::find(own, false) - own.begin();
    const auto at_end = std::find(own.rbegin(), own.rend(), false) - own.rbegin();
    const auto from = static_cast<double>(at_first), to = static_cast<double>(at_end);
    const double samples = static_cast<double>(r.end - r.first) - 0.5 * (from + to);
    const double u = std::sqrt(1.0 / 6.0 + (from * from + to * to) / 12.0);
    return {static_cast<double>(r.first) + 0.5 * from, seconds{samples / rate.value()},
            seconds{u / rate.value()}};
}

}  // namespace

outcome<std::vector<gap_in_sound>> find_gaps(std::span<const double> volts, sample_rate rate,
                                             cvrig::volts noise, cvrig::volts dc,
                                             hertz highest_pitch) {
    if (!(rate.value() > 0.0) || !(noise.value() >= 0.0) || !(highest_pitch.value() > 0.0))
        return refuse(refusal::bad_argument);
    if (static_cast<double>(volts.size()) < 0.025 * rate.value()) return refuse(refusal::too_short);
    if (!all_finite(volts)) return refuse(refusal::not_finite);
    const double least = within_noise * std::max(noise, least_noise).value();
    const auto shortest = std::max(3.0, std::ceil(shortest_gap.value() * rate.value()));
    const auto side = static_cast<std::ptrdiff_t>(beside.value() * rate.value());
    const wave_around wave{volts, rate, dc.value(), least, highest_pitch};
    std::vector<gap_in_sound> out;
    for (run r{0, 0}; r.first < volts.size(); r.first = std::max(r.end, r.first + 1)) {
        r.end = r.first;
        while (r.end < volts.size() && std::abs(volts[r.end] - dc.value()) <= least) ++r.end;
        if (static_cast<double>(r.end - r.first) < shortest) continue;
        const auto first = static_cast<std::ptrdiff_t>(r.first);
        const auto end = static_cast<std::ptrdiff_t>(r.end);
        if (!is_loud(around(volts, first - side, first), dc.value(), loud * least) ||
            !is_loud(around(volts, end, end + side), dc.value(), loud * least))
            continue;
        const auto own = wave.own(r);
        if (static_cast<double>(std::ranges::count(own, false)) < least_unlike * shortest) continue;
        out.push_back(measured(r, own, rate));
    }
    return out;
}

}  // namespace cvrig::analysis
