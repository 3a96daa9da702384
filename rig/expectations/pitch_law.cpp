#include "rig/expectations/expectations.hpp"

namespace cvrig {

hertz pitch_law::pitch(volts v) const noexcept {
    return raised(reference, per_volt(v - at));
}

cents pitch_law::per_volt(volts v) const noexcept {
    return to_cents(octaves{v / per_octave});
}

}  // namespace cvrig
