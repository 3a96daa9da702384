#include "demo/calibration.hpp"

#include <algorithm>
#include <array>
#include <cmath>

namespace ferrule {
namespace {

/// Long enough that converter noise ends far below a hundredth of a cent.
constexpr int readings_per_press = 4096;

double press_button(const converter& input, double volts, noise_source& noise) {
    double sum = 0.0;
    for (int i = 0; i < readings_per_press; ++i) sum += input.read(volts, noise);
    return sum / readings_per_press;
}

}  // namespace

double calibration::volts(double code) const noexcept {
    const double straight = offset_volts + slope_volts_per_code * code;
    const double piece =
        std::clamp(std::floor(straight), 0.0, static_cast<double>(table_points - 2));
    const auto left = static_cast<std::size_t>(piece);
    const double rise = table_volts[left + 1] - table_volts[left];
    return straight + table_volts[left] + rise * (straight - piece);
}

calibration fit_calibration(std::span<const calibration_point> points) noexcept {
    double mean_code = 0.0;
    double mean_volts = 0.0;
    for (const auto& point : points) {
        mean_code += point.code / static_cast<double>(points.size());
        mean_volts += point.volts / static_cast<double>(points.size());
    }
    double products = 0.0;
    double squares = 0.0;
    for (const auto& point : points) {
        products += (point.code - mean_code) * (point.volts - mean_volts);
        squares += (point.code - mean_code) * (point.code - mean_code);
    }
    const double slope = products / squares;
    return {mean_volts - slope * mean_code, slope};
}

calibration calibrate(const specimen& unit, std::uint64_t seed) noexcept {
    const converter input{unit.pitch};
    noise_source noise{seed};
    std::array<calibration_point, 3> points{};
    double volts = 1.0;
    for (auto& point : points) {
        point = {volts, press_button(input, volts, noise)};
        volts += 1.0;
    }
    return fit_calibration(points);
}

calibration factory_calibration() noexcept {
    return calibrate(make_specimen(1), 1);
}

}  // namespace ferrule
