#include <iterator>

#include "tests/coverage/coverage.hpp"
#include "tests/coverage/lists.hpp"

namespace cvrig::testing {

std::vector<covered_quantity> all_quantities() {
    std::vector<covered_quantity> out;
    for (const auto list : {
             tracking_coverage,
             slide_coverage,
             accent_coverage,
             envelope_coverage,
             console_coverage,
             level_coverage,
             range_coverage,
             stereo_coverage,
             waveform_coverage,
             noise_coverage,
             pattern_coverage,
             latency_coverage,
             gate_coverage,
             clicks_coverage,
         }) {
        auto some = list();
        out.insert(out.end(), std::move_iterator{some.begin()}, std::move_iterator{some.end()});
    }
    return out;
}

}  // namespace cvrig::testing
