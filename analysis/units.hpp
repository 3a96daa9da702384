#pragma once

#include <compare>

/// Units as types: a number that has a unit is never a bare double in a public signature.
///
/// Construction from a number is explicit, arithmetic is between equal units only, and conversions
/// have names. Where a bare double remains (a ratio, an array element), its name ends in the unit.
namespace cvrig {

/// A value in one unit. `Tag` only tells units apart; the stored number is in that unit.
template <class Tag>
class quantity {
public:
    constexpr quantity() noexcept = default;
    explicit constexpr quantity(double v) noexcept : v_{v} {}

    [[nodiscard]] constexpr double value() const noexcept { return v_; }

    // clang-tidy 14 takes the rewritten comparison with 0 for a null pointer.
    friend constexpr auto operator<=>(quantity,
                                      quantity) = default;  // NOLINT(modernize-use-nullptr)
    friend constexpr quantity operator+(quantity a, quantity b) noexcept {
        return quantity{a.v_ + b.v_};
    }
    friend constexpr quantity operator-(quantity a, quantity b) noexcept {
        return quantity{a.v_ - b.v_};
    }
    friend constexpr quantity operator-(quantity a) noexcept { return quantity{-a.v_}; }
    friend constexpr quantity operator*(quantity a, double k) noexcept {
        return quantity{a.v_ * k};
    }
    friend constexpr quantity operator*(double k, quantity a) noexcept {
        return quantity{a.v_ * k};
    }
    friend constexpr quantity operator/(quantity a, double k) noexcept {
        return quantity{a.v_ / k};
    }
    /// The ratio of two values of one unit is a plain number.
    friend constexpr double operator/(quantity a, quantity b) noexcept { return a.v_ / b.v_; }
    constexpr quantity& operator+=(quantity b) noexcept {
        v_ += b.v_;
        return *this;
    }
    constexpr quantity& operator-=(quantity b) noexcept {
        v_ -= b.v_;
        return *this;
    }

private:
    double v_{0.0};
};

using hertz = quantity<struct hertz_tag>;
using seconds = quantity<struct seconds_tag>;
using volts = quantity<struct volts_tag>;
/// 1/1200 octave, a logarithmic interval (A. J. Ellis, 1885).
using cents = quantity<struct cents_tag>;
using octaves = quantity<struct octaves_tag>;
/// A level difference, 20 lg of a voltage ratio.
using decibels = quantity<struct decibels_tag>;
/// Level re sqrt(0.6) V rms (0.774597 V: 1 mW in 600 ohm).
using dbu = quantity<struct dbu_tag>;
using per_second = quantity<struct per_second_tag>;

/// Samples per second of a uniformly sampled record.
class sample_rate {
public:
    explicit constexpr sample_rate(double samples_per_second) noexcept : v_{samples_per_second} {}
    [[nodiscard]] constexpr double value() const noexcept { return v_; }
    [[nodiscard]] constexpr hertz nyquist() const noexcept { return hertz{v_ / 2}; }
    [[nodiscard]] constexpr seconds period() const noexcept { return seconds{1.0 / v_}; }
    friend constexpr auto operator<=>(sample_rate, sample_rate) = default;

private:
    double v_;
};

/// Interval from `reference` up to `f`: 1200 lb(f / reference). Both must be above 0.
[[nodiscard]] cents interval(hertz f, hertz reference) noexcept;

/// `reference` raised by `by`: reference * 2^(by / 1200).
[[nodiscard]] hertz raised(hertz reference, cents by) noexcept;

[[nodiscard]] constexpr cents to_cents(octaves o) noexcept {
    return cents{o.value() * 1200.0};
}
[[nodiscard]] constexpr octaves to_octaves(cents c) noexcept {
    return octaves{c.value() / 1200.0};
}

/// 20 lg of a voltage ratio above 0.
[[nodiscard]] decibels to_decibels(double voltage_ratio) noexcept;
[[nodiscard]] double to_voltage_ratio(decibels level) noexcept;

/// Level of a voltage above 0, re sqrt(0.6) V rms.
[[nodiscard]] dbu to_dbu(volts rms) noexcept;

namespace literals {
constexpr hertz operator""_Hz(long double v) {
    return hertz{static_cast<double>(v)};
}
constexpr hertz operator""_Hz(unsigned long long v) {
    return hertz{static_cast<double>(v)};
}
constexpr hertz operator""_kHz(long double v) {
    return hertz{static_cast<double>(v) * 1e3};
}
constexpr hertz operator""_kHz(unsigned long long v) {
    return hertz{static_cast<double>(v) * 1e3};
}
constexpr seconds operator""_s(long double v) {
    return seconds{static_cast<double>(v)};
}
constexpr seconds operator""_s(unsigned long long v) {
    return seconds{static_cast<double>(v)};
}
constexpr seconds operator""_ms(long double v) {
    return seconds{static_cast<double>(v) * 1e-3};
}
constexpr seconds operator""_ms(unsigned long long v) {
    return seconds{static_cast<double>(v) * 1e-3};
}
constexpr volts operator""_V(long double v) {
    return volts{static_cast<double>(v)};
}
constexpr volts operator""_V(unsigned long long v) {
    return volts{static_cast<double>(v)};
}
constexpr volts operator""_mV(long double v) {
    return volts{static_cast<double>(v) * 1e-3};
}
constexpr volts operator""_mV(unsigned long long v) {
    return volts{static_cast<double>(v) * 1e-3};
}
constexpr cents operator""_cents(long double v) {
    return cents{static_cast<double>(v)};
}
constexpr cents operator""_cents(unsigned long long v) {
    return cents{static_cast<double>(v)};
}
constexpr decibels operator""_dB(long double v) {
    return decibels{static_cast<double>(v)};
}
constexpr decibels operator""_dB(unsigned long long v) {
    return decibels{static_cast<double>(v)};
}
}  // namespace literals

}  // namespace cvrig
