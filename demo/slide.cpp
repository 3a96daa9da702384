#include "demo/slide.hpp"

#include <cmath>

namespace ferrule {

double slide::next(double target_volts, bool jack_high, bool fresh, double kept) noexcept {
    constexpr double arrived_volts = 0.1 / 1200.0;
    const double distance = volts_ - target_volts;
    if (jack_high) {
        moving_ = true;
    } else if (fresh || std::abs(distance) < arrived_volts) {
        moving_ = false;
    }
    volts_ = moving_ ? target_volts + distance * kept : target_volts;
    return volts_;
}

}  // namespace ferrule
