#include "tests/support/synthetic_glide.hpp"

#include <algorithm>
#include <cmath>
#include <complex>
#include <kissfft/kissfft.hh>
#include <numbers>
#include <random>

namespace cvrig::testing {

using analysis::glide_shape;
using std::numbers::pi;
using complex = std::complex<double>;

namespace {

/// Abscissae and weights of the 8-point Gauss-Legendre rule (Abramowitz and Stegun 1964,
/// table 25.4).
constexpr std::array<double, 4> gauss_at{0.1834346424956498, 0.5255324099163290, 0.7966664774136267,
                                         0.9602898564975363};
constexpr std::array<double, 4> gauss_weight{0.3626837833783620, 0.3137066458778873,
                                             0.2223810344533745, 0.1012285362903763};

double integral_of_pitch(const synthetic_glide& g, double a, double b) {
    double sum = 0.0;
    const double middle = (a + b) / 2, half = (b - a) / 2;
    for (std::size_t i = 0; i < gauss_at.size(); ++i)
        sum += gauss_weight[i] * (pitch_of(g, middle - half * gauss_at[i]) +
                                  pitch_of(g, middle + half * gauss_at[i]));
    return sum * half;
}

/// Pitch at `u_s`, at most 0, from the start.
double pitch_before(const synthetic_glide& g, double u_s) {
    if (!(g.earlier_from_hz > 0)) return g.from_hz;
    const double left = std::exp(-std::max(0.0, g.earlier_s + u_s) / g.tau_s);
    return g.from_hz * std::pow(g.earlier_from_hz / g.from_hz, left);
}

/// Phase at every sample, summed piece by piece; each kink of the pitch ends a piece.
std::vector<double> phase_of_samples(const synthetic_glide& g, std::size_t n, double first_s) {
    std::vector<double> phase(n);
    const double kink = g.start_s;
    const double second = g.shape == glide_shape::linear_in_volts ? g.start_s + g.tau_s : -1e9;
    const double earlier = g.earlier_from_hz > 0 ? g.start_s - g.earlier_s : -1e9;
    double sum = 0.0, carry = 0.0;  // compensated: Kahan 1965
    auto add = [&](double x) {
        const double y = x - carry;
        const double t = sum + y;
        carry = (t - sum) - y;
        sum = t;
    };
    const int parts = g.tau_s < 0.002 ? 8 : 1;
    for (std::size_t i = 1; i < n; ++i) {
        double a = first_s + static_cast<double>(i - 1) / g.rate_hz;
        const double end = first_s + static_cast<double>(i) / g.rate_hz;
        for (const double k : {earlier, kink, second})
            if (a < k && k < end) {
                add(integral_of_pitch(g, a, k));
                a = k;
            }
        const double step = (end - a) / parts;
        for (int p = 0; p < parts; ++p) add(integral_of_pitch(g, a + p * step, a + (p + 1) * step));
        phase[i] = sum;
    }
    return phase;
}

/// Fourier amplitude of harmonic k: sine weights of saw and square, and their mean.
double harmonic_of(oscillator wave, int k) {
    const double saw = 2 / (pi * k) * (k % 2 == 1 ? 1.0 : -1.0);
    const double square = k % 2 == 1 ? 4 / (pi * k) : 0.0;
    if (wave == oscillator::saw) return saw;
    return wave == oscillator::square ? square : 0.5 * (saw + square);
}

complex filter_response(const synthetic_glide& g, double f_hz) {
    // The bilinear map of a digital filter at twice the rate, pre-warped at its cutoff.
    const double twice = 2 * g.rate_hz;
    const complex s{0.0, std::tan(pi * f_hz / twice) / std::tan(pi * g.cutoff_hz / twice)};
    complex h{1.0};
    switch (g.filter) {
        case filter_kind::none:
            break;
        case filter_kind::ladder: {
            const complex one = 1.0 / (1.0 + s);
            const complex four = one * one * one * one;
            h = four / (1.0 + g.resonance * four);
            break;
        }
        case filter_kind::two_pole:
            h = 1.0 / (1.0 + s / g.resonance + s * s);
            break;
        case filter_kind::unequal_poles: {
            const complex one = 1.0 / (1.0 + s);
            const complex loose = 1.0 / (1.0 + s / 2.0);
            const complex four = loose * one * one * one;
            h = four / (1.0 + g.resonance * four);
            break;
        }
    }
    if (g.high_pass_hz > 0) h *= complex{0, f_hz} / complex{g.high_pass_hz, f_hz};
    return h;
}

std::size_t power_of_two(std::size_t n) {
    std::size_t m = 1;
    while (m < n) m *= 2;
    return m;
}

void filter_in_place(const synthetic_glide& g, std::vector<double>& x) {
    const std::size_t n = power_of_two(x.size());
    std::vector<complex> time(n), freq(n);
    for (std::size_t i = 0; i < x.size(); ++i) time[i] = x[i];
    kissfft<double>{n, false}.transform(time.data(), freq.data());
    for (std::size_t i = 0; i < n; ++i) {
        const auto bin = static_cast<double>(i);
        const auto all = static_cast<double>(n);
        const double f = (i <= n / 2 ? bin : bin - all) * g.rate_hz / all;
        freq[i] *= filter_response(g, f) / all;
    }
    kissfft<double>{n, true}.transform(freq.data(), time.data());
    for (std::size_t i = 0; i < x.size(); ++i) x[i] = time[i].real();
}

/// A four-pole ladder whose cutoff falls with an envelope: trapezoidal one-poles with the feedback
/// loop solved at every sample (V. Zavalishin, "The Art of VA Filter Design", 2012, chapter 5).
void moving_ladder_in_place(const synthetic_glide& g, std::vector<double>& x, double first_s) {
    std::array<double, 4> state{};
    double slow = 0.0;
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = first_s + static_cast<double>(i) / g.rate_hz - g.start_s;
        const double open = g.sweep_octaves * std::exp(-std::max(t, -0.1) / g.sweep_s);
        const double cutoff = std::min(g.cutoff_hz * std::exp2(open), 0.4 * g.rate_hz);
        const double k = std::tan(pi * cutoff / g.rate_hz);
        const double big = k / (1 + k);
        double held = 0.0;
        for (const double s : state) held = held * big + s / (1 + k);
        double y = (x[i] - g.resonance * held) / (1 + g.resonance * big * big * big * big);
        for (double& s : state) {
            const double step = (y - s) * big;
            y = step + s;
            s = y + step;
        }
        if (g.high_pass_hz > 0) {
            slow += (1 - std::exp(-2 * pi * g.high_pass_hz / g.rate_hz)) * (y - slow);
            y -= slow;
        }
        x[i] = y;
    }
}

std::vector<double> oscillate(const synthetic_glide& g, const std::vector<double>& phase,
                              double first_s, std::size_t fade) {
    std::vector<double> x(phase.size());
    const double lowest = std::min(g.from_hz, g.to_hz);
    const int most = static_cast<int>(0.48 * g.rate_hz / lowest);
    std::vector<double> weights;
    for (int k = 1; k <= most; ++k) weights.push_back(harmonic_of(g.wave, k));
    for (std::size_t i = 0; i < x.size(); ++i) {
        const double t = first_s + static_cast<double>(i) / g.rate_hz;
        const double pitch = pitch_of(g, t);
        const double turns = phase[i] + g.phase_turns;
        const double angle = 2 * pi * (turns - std::floor(turns));
        const complex turn{std::cos(angle), std::sin(angle)};
        complex wave = turn;
        double sum = 0.0;
        for (std::size_t k = 0; k < weights.size(); ++k) {
            const double f = static_cast<double>(k + 1) * pitch;
            // Harmonics leave softly below the Nyquist frequency.
            const double over = (f / g.rate_hz - 0.42) / 0.06;
            if (over >= 1) break;
            const double gain = over <= 0 ? 1.0 : 0.5 + 0.5 * std::cos(pi * over);
            sum += gain * weights[k] * wave.imag();
            wave = {wave.real() * turn.real() - wave.imag() * turn.imag(),
                    wave.real() * turn.imag() + wave.imag() * turn.real()};
        }
        const double in = std::min(1.0, static_cast<double>(i) / static_cast<double>(fade + 1));
        x[i] = sum * std::exp(-g.decay_per_s * (t - g.start_s)) * (0.5 - 0.5 * std::cos(pi * in));
    }
    return x;
}

/// Rises from three time constants on and falls again, with its top of 1 one time constant later.
double octaves_past(const synthetic_glide& g, double u) {
    const double x = u / g.tau_s - 3;
    if (x <= 0 || g.overshoot_cents == 0) return 0.0;
    return (g.to_hz > g.from_hz ? 1.0 : -1.0) * g.overshoot_cents / 1200 * x * std::exp(1 - x);
}

}  // namespace

double pitch_of(const synthetic_glide& g, double t_s) {
    const double u = t_s - g.start_s;
    if (u <= 0) return pitch_before(g, u);
    switch (g.shape) {
        case glide_shape::exponential_in_volts:
            return g.to_hz * std::pow(pitch_before(g, 0.0) / g.to_hz, std::exp(-u / g.tau_s)) *
                   std::exp2(octaves_past(g, u));
        case glide_shape::exponential_in_hertz:
            return g.to_hz + (g.from_hz - g.to_hz) * std::exp(-u / g.tau_s);
        case glide_shape::linear_in_volts:
            break;
    }
    return g.from_hz * std::pow(g.to_hz / g.from_hz, std::min(u / g.tau_s, 1.0));
}

double phase_by_quadrature(const synthetic_glide& g, double t_s) {
    if (t_s <= g.start_s) return g.from_hz * t_s;
    const double kink = g.shape == glide_shape::linear_in_volts ? g.start_s + g.tau_s : t_s;
    double sum = g.from_hz * g.start_s;
    constexpr int pieces = 400;
    const double bent = std::min(kink, t_s);
    for (int i = 0; i < pieces; ++i)
        sum += integral_of_pitch(g, g.start_s + (bent - g.start_s) * i / pieces,
                                 g.start_s + (bent - g.start_s) * (i + 1) / pieces);
    return sum + (t_s > bent ? g.to_hz * (t_s - bent) : 0.0);
}

glide_record render(const synthetic_glide& g) {
    // The voice sounds long before the record, so that the filter has settled when it begins.
    const auto lead = static_cast<std::size_t>(0.4 * g.rate_hz);
    const auto n = static_cast<std::size_t>(g.length_s * g.rate_hz);
    const double first_s = -static_cast<double>(lead) / g.rate_hz;
    const auto phase = phase_of_samples(g, lead + n, first_s);
    auto x = oscillate(g, phase, first_s, lead / 2);
    if (g.sweep_octaves > 0)
        moving_ladder_in_place(g, x, first_s);
    else if (g.filter != filter_kind::none || g.high_pass_hz > 0)
        filter_in_place(g, x);
    glide_record out;
    out.volts.assign(x.begin() + static_cast<std::ptrdiff_t>(lead), x.end());
    double power = 0.0;
    for (const double v : out.volts) power += v * v;
    const double gain = g.level_v / std::sqrt(power / static_cast<double>(n));
    out.voice_rms = g.level_v;
    out.noise_rms = g.level_v * std::pow(10.0, -g.snr_db / 20);
    std::mt19937 random{g.seed};
    std::normal_distribution<double> normal{0.0, 1.0};
    const double hum = g.level_v * std::pow(10.0, g.hum_db / 20) * std::numbers::sqrt2;
    for (std::size_t i = 0; i < n; ++i) {
        const double t = static_cast<double>(i) / g.rate_hz;
        out.volts[i] = gain * out.volts[i] + hum * std::sin(2 * pi * 50.0 * t + 1.0) + g.offset_v +
                       out.noise_rms * normal(random);
    }
    return out;
}

drawn_glide draw_glide(std::uint32_t seed, glide_class kind) {
    std::mt19937 random{seed};
    auto between = [&](double a, double b) {
        return std::uniform_real_distribution<double>{a, b}(random);
    };
    auto log_between = [&](double a, double b) {
        return std::exp(between(std::log(a), std::log(b)));
    };
    auto normal = [&](double sigma) {
        return std::normal_distribution<double>{0.0, sigma}(random);
    };
    drawn_glide out;
    auto& v = out.voice;
    v.from_hz = log_between(32, 1000);
    const double size = between(0, 1) < 0.2 ? 1.0 : std::floor(between(1, 25));
    double way = between(0, 1) < 0.5 ? -1.0 : 1.0;
    v.to_hz = v.from_hz * std::pow(2.0, way * size / 12);
    if (v.to_hz < 32 || v.to_hz > 1000) v.to_hz = v.from_hz * std::pow(2.0, -way * size / 12);
    v.tau_s = log_between(0.005, 0.120);
    const bool typical = kind != glide_class::fixed_amplitudes && kind != glide_class::fixed_filter;
    const bool filtered =
        kind != glide_class::fixed_amplitudes && kind != glide_class::typical_fixed_amplitudes;
    if (typical) {
        v.from_hz = log_between(65, 130);
        v.to_hz = 2 * v.from_hz;
        if (between(0, 1) < 0.5) std::swap(v.from_hz, v.to_hz);
        v.tau_s = 0.022;
    }
    v.start_s = 0.15 + between(-0.002, 0.002);
    v.length_s = 0.15 + 6.5 * v.tau_s + 0.13;
    v.wave = static_cast<oscillator>(static_cast<int>(between(0, 3)));
    v.phase_turns = between(0, 1);
    v.decay_per_s = between(0, 1) < 0.5 ? 0.0 : between(1, 5);
    v.snr_db = 40.0 + 20.0 * std::floor(between(0, 3));
    if (typical) v.snr_db = 80;
    v.hum_db = between(0, 1) < 0.5 ? -50.0 : -1e9;
    v.seed = seed + 77;
    const double fmin = std::min(v.from_hz, v.to_hz), fmax = std::max(v.from_hz, v.to_hz);
    if (filtered) {
        v.filter = static_cast<filter_kind>(1 + static_cast<int>(between(0, 3)));
        v.cutoff_hz = std::min(log_between(0.7 * fmin, 10 * fmax), 12000.0);
        v.resonance = v.filter == filter_kind::two_pole ? log_between(0.5, 6) : between(0, 3.4);
        v.high_pass_hz = between(0, 1) < 0.5 ? 0.0 : between(2, 12);
    }
    if (kind == glide_class::moving_filter) {
        v.sweep_octaves = between(0.5, 2.0);
        v.sweep_s = between(0.1, 0.4);
        v.filter = filter_kind::ladder;
        v.resonance = std::min(v.resonance, 3.4);  // at 4 it would sing by itself
        v.cutoff_hz = log_between(2 * fmin, 6 * fmax);
    }
    auto& r = out.request;
    r.from = hertz{v.from_hz * (1 + normal(0.003))};
    r.to = hertz{v.to_hz * (1 + normal(0.003))};
    r.expected_start = seconds{0.15};
    r.noise_rms = volts{v.level_v * std::pow(10.0, -v.snr_db / 20)};
    return out;
}

}  // namespace cvrig::testing
