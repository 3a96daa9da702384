#include "rig/run/patch_cast.hpp"

#include <cmath>

namespace cvrig::patching {

cast cast_of(const bench& b, const module_expectations& m) {
    cast out;
    for (std::size_t i = 0; i < b.outputs.size(); ++i) {
        const auto& jack = b.outputs[i].jack;
        if (m.find_jack(jack) == nullptr) continue;
        if (jack == "gate")
            out.gate = i;
        else if (jack == "pitch")
            out.pitch = i;
        else if (jack == "accent")
            out.accent = i;
        else if (jack == "slide")
            out.slide = i;
        else if (jack == "cutoff")
            out.cutoff = i;
        else
            out.others.push_back(i);
    }
    return out;
}

patch_effect effect_on(const bench& b, std::size_t output, std::string_view jack, double size,
                       double threshold) {
    return {.output = b.outputs[output].jack,
            .jack = std::string{jack},
            .size = size,
            .threshold = threshold,
            .there = std::abs(size) >= threshold};
}

}  // namespace cvrig::patching
