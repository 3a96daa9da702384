#include "demo/converter.hpp"

#include <algorithm>

namespace ferrule {

double converter::read(double volts, noise_source& noise) const noexcept {
    const double bent =
        volts * traits_.gain + traits_.offset_volts + traits_.curvature_per_volt * volts * volts;
    const double seen = bent + traits_.noise_volts * noise.normal();
    // A code stands for the volts from half a step below it to half a step above.
    const double code = std::clamp((seen - lowest_volts) / volts_per_code + 0.5, 0.0, top_code);
    return static_cast<double>(static_cast<int>(code));
}

}  // namespace ferrule
