#pragma once

namespace ferrule {

/// A gate input: high above the trip point, low again a little below it.
class trigger {
public:
    static constexpr double hysteresis_volts = 0.2;

    explicit trigger(double trip_volts, double hysteresis = hysteresis_volts) noexcept
        : trip_volts_{trip_volts}, low_volts_{trip_volts - hysteresis} {}

    bool read(double volts) noexcept {
        high_ = volts > (high_ ? low_volts_ : trip_volts_);
        return high_;
    }

private:
    double trip_volts_;
    double low_volts_;
    bool high_ = false;
};

}  // namespace ferrule
