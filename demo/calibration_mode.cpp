#include "demo/calibration_mode.hpp"

#include "demo/console/instrument.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {
namespace {

/// What goes into the flash: a build may get the way from the factory's constants wrong.
calibration as_written(const calibration& fitted, const calibration_habits& habits) {
    const auto factory = factory_calibration();
    const double share = habits.wrong_sign ? -habits.scale : habits.scale;
    if (share == 1.0) return fitted;
    return {factory.offset_volts + share * (fitted.offset_volts - factory.offset_volts),
            factory.slope_volts_per_code +
                share * (fitted.slope_volts_per_code - factory.slope_volts_per_code)};
}

}  // namespace

void calibration_mode::begin() noexcept {
    on_ = true;
    codes_ = {};
}

void calibration_mode::abandon() noexcept {
    on_ = false;
    codes_ = {};
}

std::size_t calibration_mode::taken() const noexcept {
    const auto first_missing = std::find(codes_.begin(), codes_.end(), std::nullopt);
    return static_cast<std::size_t>(first_missing - codes_.begin());
}

void calibration_mode::take_point(std::size_t point, double code,
                                  const calibration_habits& habits) {
    if (!on_ && point == 1) begin();
    if (!on_) throw command_error(scpi::settings_conflict, "begin the calibration first");
    if (point > taken() + 1) {
        throw command_error(scpi::settings_conflict,
                            "point " + std::to_string(taken() + 1) + " comes first");
    }
    if (point == habits.stuck_at) return;
    if (point == 2) code += habits.hasty_share * (*codes_[0] - code);
    codes_[point - 1] = code;
}

double calibration_mode::code_of(std::size_t point) const {
    const auto& code = codes_[point - 1];
    if (!code) throw command_error(scpi::settings_conflict, "this point has not been taken");
    return *code;
}

std::string calibration_mode::state() const {
    return on_ ? std::to_string(taken()) : "OFF";
}

calibration calibration_mode::finish(const calibration_habits& habits) {
    if (!on_) throw command_error(scpi::settings_conflict, "begin the calibration first");
    std::array<calibration_point, points> all{};
    for (std::size_t i = 0; i < points; ++i) {
        if (!codes_[i])
            throw command_error(scpi::settings_conflict, "take points 1, 2 and 3 first");
        all[i] = {static_cast<double>(i + 1), *codes_[i]};
    }
    // A unit is never off by more than 2 %, so anything else is a wrong cable or a wrong source.
    constexpr double most_off = 0.05;
    const auto fitted = fit_calibration(all);
    if (!(std::abs(fitted.slope_volts_per_code / calibration{}.slope_volts_per_code - 1.0) <
          most_off)) {
        throw command_error(scpi::data_questionable, "the points are not 1 V apart");
    }
    on_ = false;
    return as_written(fitted, habits);
}

}  // namespace ferrule
