#include "analysis/wave_profile.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>
#include <span>

#include "analysis/wave_filter.hpp"

namespace cvrig::analysis {

namespace {

constexpr double pi = std::numbers::pi;
constexpr double db_of_power = 4.342944819032518;  // 10 / ln 10
constexpr int fewest_harmonics = 9;
constexpr int most_harmonics = 40;
constexpr double closest_bins = 24.0;
// What a line_reader makes of a line between bins: the eleven bins about it are not all of it.
constexpr double u_reader_share = 2e-5;

/// Standard deviation of each component of harmonic k, from what stands in the three gaps on either
/// side of it: as many places in each as keep `closest_bins` / 2 from the harmonics. The gap below the
/// fundamental is left out: hum and drift stand there, which no harmonic meets.
std::vector<double> noise_of_harmonics(const line_reader& spectrum, hertz pitch, int count) {
    constexpr int most_places = 4;
    const double gap_bins = pitch / spectrum.bin_width();
    const int places =
        std::clamp(static_cast<int>(2.0 * gap_bins / closest_bins) - 1, 1, most_places);
    std::vector<double> between;
    for (int k = 1; k <= count; ++k)
        for (int i = 1; i <= places; ++i) {
            const double number = k + static_cast<double>(i) / (places + 1);
            between.push_back(std::norm(spectrum.at(pitch * number)));
        }
    std::vector<double> out;
    for (int k = 1; k <= count; ++k) {
        const int first = places * std::max(0, k - 4);
        const int end = places * std::min(count, k + 2);
        double sum = 0.0;
        for (int j = first; j < end; ++j) sum += between[static_cast<std::size_t>(j)];
        out.push_back(std::sqrt(sum / (2.0 * (end - first))));
    }
    return out;
}

bool is_even(const profile_harmonic& h) {
    return h.number % 2 == 0;
}

double weight(const profile_harmonic& h) {
    return 1.0 / (static_cast<double>(h.number) * h.number);
}

// Mean of |share - wave|^2 over the harmonics that `counts`, without what noise adds to it.
template <class Counts>
profile_reading power_about(const wave_profile& of, double even, double odd, const Counts& counts) {
    double power = 0.0;
    double variance = 0.0;
    double weights = 0.0;
    for (const auto& h : of.harmonics) {
        if (!counts(h)) continue;
        const double w = weight(h);
        const double p = std::norm(std::abs(h.share.real()) - (is_even(h) ? even : odd)) +
                         h.share.imag() * h.share.imag();
        const double u2 = h.u * h.u;
        power += w * (p - 2.0 * u2);
        variance += w * w * (4.0 * std::max(p, u2) * u2 + 4.0 * u2 * u2);
        weights += w;
    }
    return {power / weights, std::sqrt(variance) / weights};
}

// A power in decibels; one that noise hides stands as high as noise could make it.
profile_reading in_decibels(profile_reading power) {
    const double shown = std::max({power.value, power.u, 1e-15});
    return {db_of_power * std::log(shown), db_of_power * power.u / shown};
}

/// How far a pulse's high share is from a half, from its first two harmonics, no filter known:
/// their peaks are as 1 to -cos(pi d).
profile_reading off_half_unfiltered(std::span<const std::complex<double>> heard,
                                    std::span<const double> noise) {
    constexpr double unknown_filter = 0.03;
    const double turn = std::arg(heard[0]) + pi / 2.0;
    const auto second = heard[1] * std::polar(1.0, pi / 2.0 - 2.0 * turn) / std::abs(heard[0]);
    const double q = std::clamp(second.imag(), -1.0, 1.0);
    const double off = std::asin(q) / pi;
    const double slope = 1.0 / (pi * std::sqrt(std::max(1e-6, 1.0 - q * q)));
    return {off, std::hypot(slope * noise[1] / std::abs(heard[0]), unknown_filter * off)};
}

/// The same with the filter that the odd harmonics show once the pulse's own cos(pi k off) is
/// divided out of them; the even ones then stand at sin(pi k off).
profile_reading high_share_of(std::span<const std::complex<double>> heard,
                              std::span<const double> noise) {
    constexpr double farthest_radians = 1.2;  // where the cosine is still well above 0
    auto off = off_half_unfiltered(heard, noise);
    for (int turn = 0; turn < 4; ++turn) {
        const auto room =
            static_cast<int>(farthest_radians / (pi * std::max(std::abs(off.value), 1e-6)));
        const auto used = std::min(static_cast<int>(heard.size()), room);
        if (used < fewest_harmonics) break;
        std::vector<std::complex<double>> square;
        for (int k = 1; k <= used; ++k)
            square.push_back(heard[static_cast<std::size_t>(k - 1)] /
                             std::cos(k % 2 == 1 ? pi * k * off.value : 0.0));
        const auto filter = fit_wave_filter(square, noise.first(square.size()));
        if (!filter) break;
        const double sine = std::clamp((heard[1] / filter->saw[1]).imag(), -0.9, 0.9);
        const double slope = 1.0 / (2.0 * pi * std::sqrt(1.0 - sine * sine));
        off.value = std::asin(sine) / (2.0 * pi);
        off.u = slope * std::hypot(noise[1] / std::abs(filter->saw[1]),
                                   sine * std::hypot(filter->u_even_level, filter->u_misfit));
    }
    return {100.0 * (0.5 + off.value), 100.0 * std::hypot(off.u, u_reader_share / (2.0 * pi))};
}

double sum_of_powers(const wave_profile& of, double even) {
    double power = 0.0;
    double weights = 0.0;
    for (const auto& h : of.harmonics) {
        power += weight(h) * (is_even(h) ? even * even : 1.0);
        weights += weight(h);
    }
    return power / weights;
}

}  // namespace

outcome<wave_profile> profile_of(const line_reader& spectrum, hertz pitch, int count) {
    const hertz highest = spectrum.bin_width() * (0.84 * static_cast<double>(spectrum.bins()));
    if (count < fewest_harmonics || count > most_harmonics || !(pitch.value() > 0.0) ||
        pitch * (count + 0.8) > highest)
        return refuse(refusal::bad_argument);
    if (pitch / spectrum.bin_width() < closest_bins) return refuse(refusal::too_short);
    std::vector<std::complex<double>> heard;
    for (int k = 1; k <= count; ++k) heard.push_back(spectrum.at(pitch * static_cast<double>(k)));
    const auto noise = noise_of_harmonics(spectrum, pitch, count);
    constexpr double over_noise = 10.0;
    if (std::abs(heard[0]) <= over_noise * noise[0] || std::abs(heard[0]) < 1e-9)
        return refuse(refusal::silent);
    const auto filter = fit_wave_filter(heard, noise);
    if (!filter) return refuse(filter.error());

    wave_profile out{.pitch = pitch,
                     .harmonics = {},
                     .u_odd_share = std::hypot(filter->u_even_level, filter->u_misfit),
                     .misfit_power = filter->misfit_power,
                     .high_share = {}};
    for (int k = 1; k <= count; ++k) {
        const auto i = static_cast<std::size_t>(k - 1);
        const auto saw = filter->saw[i];
        out.harmonics.push_back({k, heard[i] / saw, noise[i] / std::abs(saw),
                                 volts{std::abs(heard[i])}, volts{std::abs(saw)}});
    }
    out.high_share = high_share_of(heard, noise);
    return out;
}

double even_share_of(classic_wave which) noexcept {
    switch (which) {
        case classic_wave::saw:
            return 1.0;
        case classic_wave::blend:
            return 1.0 / 3.0;
        case classic_wave::square:
            break;
    }
    return 0.0;
}

profile_reading even_share(const wave_profile& of) {
    double sum = 0.0;
    double weights = 0.0;
    double variance = 0.0;
    for (const auto& h : of.harmonics) {
        if (!is_even(h)) continue;
        const double w = weight(h);
        sum += w * h.share.real();
        weights += w;
        variance += w * w * h.u * h.u;
    }
    const double e = std::abs(sum) / weights;
    return {e, std::hypot(std::sqrt(variance) / weights, e * of.u_odd_share, u_reader_share)};
}

profile_reading square_share_percent(const wave_profile& of) {
    const auto e = even_share(of);
    return {100.0 * (1.0 - e.value) / (1.0 + e.value),
            200.0 / ((1.0 + e.value) * (1.0 + e.value)) * e.u};
}

profile_reading even_odd_balance_db(const wave_profile& of) {
    auto even = power_about(of, 0.0, 0.0, is_even);
    const auto odd = power_about(of, 0.0, 0.0, [](const auto& h) { return !is_even(h); });
    even.value /= odd.value;
    even.u /= odd.value;
    auto out = in_decibels(even);
    out.u = std::hypot(out.u, 2.0 * db_of_power * of.u_odd_share,
                       2.0 * db_of_power * u_reader_share / std::sqrt(std::max(even.value, 1e-8)));
    return out;
}

profile_reading distance_db(const wave_profile& from, classic_wave to) {
    const double even = even_share_of(to);
    auto left = power_about(from, even, 1.0, [](const auto&) { return true; });
    double weights = 0.0;
    double fitted_away = 0.0;  // noise that the filter's six parameters took from the odd ones
    double by_odd_level =
        0.0;  // how the distance moves with the level that they give the even ones
    const double odd_count = std::ceil(static_cast<double>(from.harmonics.size()) / 2.0);
    for (const auto& h : from.harmonics) {
        weights += weight(h);
        if (is_even(h))
            by_odd_level +=
                weight(h) * 2.0 * (std::abs(h.share.real()) - even) * std::abs(h.share.real());
        else
            fitted_away += weight(h) * 2.0 * h.u * h.u * 6.0 / (2.0 * odd_count);
    }
    const double whole = sum_of_powers(from, even);
    left.value = (left.value + fitted_away / weights) / whole;
    // What the fitted filter is not looks like distance.
    left.u =
        std::hypot(left.u, by_odd_level / weights * from.u_odd_share, from.misfit_power) / whole;
    return in_decibels(left);
}

}  // namespace cvrig::analysis
