#include "analysis/outcome.hpp"

namespace cvrig::analysis {

std::string_view explain(refusal r) noexcept {
    switch (r) {
        case refusal::too_short:
            return "the record is too short for this measurement";
        case refusal::silent:
            return "the record is silent";
        case refusal::not_finite:
            return "the record holds values that are not finite numbers";
        case refusal::clipped:
            return "the record is clipped";
        case refusal::no_pitch:
            return "the sound has no steady pitch in the expected range";
        case refusal::no_fit:
            return "no model of the sound fits down to the noise";
        case refusal::no_contrast:
            return "the possible answers would look too alike here to tell them apart";
        case refusal::bad_argument:
            return "the measurement was asked for something impossible";
    }
    return "unknown reason";
}

}  // namespace cvrig::analysis
