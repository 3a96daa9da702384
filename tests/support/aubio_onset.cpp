#include "tests/support/aubio_onset.hpp"

#include <aubio/aubio.h>

#include <memory>

namespace cvrig::test_support {

std::vector<seconds> aubio_onsets(std::span<const double> volts, sample_rate rate) {
    constexpr uint_t frame = 256;
    constexpr uint_t hop = 64;
    const std::unique_ptr<aubio_onset_t, decltype(&del_aubio_onset)> detector{
        new_aubio_onset("hfc", frame, hop, static_cast<uint_t>(rate.value())), &del_aubio_onset};
    const std::unique_ptr<fvec_t, decltype(&del_fvec)> input{new_fvec(hop), &del_fvec};
    const std::unique_ptr<fvec_t, decltype(&del_fvec)> output{new_fvec(1), &del_fvec};
    std::vector<seconds> found;
    for (std::size_t fed = 0; detector && fed + hop <= volts.size(); fed += hop) {
        for (uint_t i = 0; i < hop; ++i)
            fvec_set_sample(input.get(), static_cast<smpl_t>(volts[fed + i]), i);
        aubio_onset_do(detector.get(), input.get(), output.get());
        if (fvec_get_sample(output.get(), 0) != 0)
            found.emplace_back(static_cast<double>(aubio_onset_get_last_s(detector.get())));
    }
    return found;
}

}  // namespace cvrig::test_support
