#include "demo/ladder.hpp"

#include <cmath>
#include <numbers>

namespace ferrule {

double ladder::pole_gain(double cycles) noexcept {
    const double g = std::tan(std::numbers::pi * cycles);
    return g / (1.0 + g);
}

}  // namespace ferrule
