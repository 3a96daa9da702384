#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <span>
#include <string>

#include "rig/expectations/dimension.hpp"

namespace cvrig {

namespace {

struct scale {
    double base_units;  ///< in one shown unit
    std::string_view unit;
};

/// Smallest first.
std::span<const scale> scales(dimension d) {
    static constexpr std::array volts{scale{1e-6, "µV"}, scale{1e-3, "mV"}, scale{1.0, "V"}};
    static constexpr std::array times{scale{1e-6, "µs"}, scale{1e-3, "ms"}, scale{1.0, "s"}};
    static constexpr std::array rates{scale{1.0, "Hz"}, scale{1e3, "kHz"}};
    static constexpr std::array sizes{scale{1.0, "B"}, scale{1024.0, "KiB"},
                                      scale{1048576.0, "MiB"}};
    switch (d) {
        case dimension::bytes:
            return sizes;
        case dimension::volts:
            return volts;
        case dimension::seconds:
            return times;
        case dimension::hertz:
            return rates;
        default:
            return {};
    }
}

/// The largest scale in which `size` is 1 or more; the base unit for 0.
scale fitting_scale(double size, dimension d) {
    scale best{1.0, base_unit(d)};
    const auto all = scales(d);
    if (size == 0.0 || all.empty()) return best;
    best = all.front();
    for (const auto& s : all) {
        if (size >= s.base_units) best = s;
    }
    return best;
}

/// Power of ten of the first digit.
int exponent(double x) {
    return static_cast<int>(std::floor(std::log10(std::abs(x))));
}

double rounded(double x, int decimals) {
    const double p = std::pow(10.0, std::abs(decimals));
    const double r = decimals >= 0 ? std::round(x * p) / p : std::round(x / p) * p;
    return std::isfinite(r) ? r : x;
}

std::string plain(double x, int decimals) {
    const double r = rounded(x, decimals);
    return fmt::format("{:.{}f}", r == 0.0 ? 0.0 : r, std::max(decimals, 0));
}

void drop_trailing_zeros(std::string& number) {
    if (number.find('.') == std::string::npos) return;
    number.erase(number.find_last_not_of('0') + 1);
    if (number.back() == '.') number.pop_back();
}

std::string with_unit(std::string number, std::string_view unit) {
    return unit.empty() ? number : fmt::format("{} {}", number, unit);
}

/// Outside this range plain decimals would be unreadable.
bool needs_power_of_ten(double x) {
    return x != 0.0 && (std::abs(x) >= 1e9 || std::abs(x) < 1e-6);
}

/// 99.96 to three digits is 100.0: such a number gets the digits of the larger power.
double to_digits(double x, int digits) {
    return x == 0.0 ? 0.0 : rounded(x, digits - 1 - exponent(x));
}

/// Decimal places that leave two digits of `u`.
int decimals_for(double u) {
    const int decimals = 1 - exponent(u);
    return rounded(u, decimals) * std::pow(10.0, decimals) > 99.5 ? decimals - 1 : decimals;
}

/// Bytes known to the byte: in the largest unit of which there is a whole number.
std::string whole_bytes(double bytes) {
    const double whole = std::round(bytes);
    scale best{1.0, base_unit(dimension::bytes)};
    for (const auto& s : scales(dimension::bytes))
        if (whole != 0.0 && std::fmod(whole, s.base_units) == 0.0) best = s;
    return with_unit(plain(whole / best.base_units, 0), best.unit);
}

}  // namespace

std::string show(double in_base_unit, dimension d, int digits) {
    if (!std::isfinite(in_base_unit)) return with_unit("no finite number", base_unit(d));
    const double x =
        needs_power_of_ten(in_base_unit) ? in_base_unit : to_digits(in_base_unit, digits);
    const auto s = fitting_scale(std::abs(x), d);
    const double shown = in_base_unit / s.base_units;
    if (needs_power_of_ten(shown)) {
        return with_unit(fmt::format("{:.{}g}", shown, digits), s.unit);
    }
    auto number = plain(shown, x == 0.0 ? 0 : digits - 1 - exponent(x / s.base_units));
    drop_trailing_zeros(number);
    return with_unit(std::move(number), s.unit);
}

std::string show(double in_base_unit, double standard_uncertainty, dimension d) {
    const double u = standard_uncertainty;
    if (!std::isfinite(in_base_unit)) return show(in_base_unit, d);
    if (!std::isfinite(u)) return show(in_base_unit, d) + " ± unknown";
    if (u <= 0.0) return fmt::format("{} ± {}", show(in_base_unit, d), show(0.0, d));
    // No part of a byte is ever counted.
    if (d == dimension::bytes && u < 1.0) return whole_bytes(in_base_unit) + " ± 1 B";
    const auto s = fitting_scale(std::max(std::abs(in_base_unit), u), d);
    const double shown_u = u / s.base_units;
    const double shown = in_base_unit / s.base_units;
    if (needs_power_of_ten(shown_u) || std::abs(shown) >= 1e9) {
        return fmt::format("{} ± {}", with_unit(fmt::format("{:.6g}", shown), s.unit),
                           with_unit(fmt::format("{:.1e}", shown_u), s.unit));
    }
    const int decimals = decimals_for(shown_u);
    return fmt::format("{} ± {}", with_unit(plain(shown, decimals), s.unit),
                       with_unit(plain(shown_u, decimals), s.unit));
}

}  // namespace cvrig
