#include "tests/support/aubio_pitch.hpp"

#include <aubio/aubio.h>

#include <algorithm>
#include <memory>
#include <vector>

namespace cvrig::test_support {

std::optional<hertz> aubio_pitch(const std::string& method, std::span<const double> volts,
                                 sample_rate rate) {
    // The longest frame up to 4096 samples (two periods of 23 Hz) of which the note holds one.
    uint_t frame = 4096;
    while (frame > volts.size()) frame /= 2;
    const uint_t hop = frame / 4;
    const std::unique_ptr<aubio_pitch_t, decltype(&del_aubio_pitch)> detector{
        new_aubio_pitch(method.c_str(), frame, hop, static_cast<uint_t>(rate.value())),
        &del_aubio_pitch};
    const std::unique_ptr<fvec_t, decltype(&del_fvec)> input{new_fvec(hop), &del_fvec};
    const std::unique_ptr<fvec_t, decltype(&del_fvec)> output{new_fvec(1), &del_fvec};
    if (!detector) return std::nullopt;
    std::vector<double> found;
    std::size_t fed = 0;
    while (fed + hop <= volts.size()) {
        for (uint_t i = 0; i < hop; ++i)
            fvec_set_sample(input.get(), static_cast<smpl_t>(volts[fed + i]), i);
        aubio_pitch_do(detector.get(), input.get(), output.get());
        fed += hop;
        const double f = static_cast<double>(fvec_get_sample(output.get(), 0));
        if (fed >= frame && f > 0.0) found.push_back(f);  // only frames filled with sound
    }
    if (found.empty()) return std::nullopt;
    const auto middle = found.begin() + static_cast<std::ptrdiff_t>(found.size() / 2);
    std::nth_element(found.begin(), middle, found.end());
    return hertz{*middle};
}

}  // namespace cvrig::test_support
