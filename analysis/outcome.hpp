#pragma once

#include <string_view>
#include <tl/expected.hpp>

namespace cvrig::analysis {

/// Why a measurement gave no number. Analysis never throws for bad audio and never returns a magic
/// number; the rig turns a refusal into the verdict `unsure` and shows its sentence.
enum class refusal {
    too_short,     ///< fewer samples or periods than the method needs
    silent,        ///< nothing above the noise
    not_finite,    ///< a sample is NaN or infinite
    clipped,       ///< the record is cut off at its extremes
    no_pitch,      ///< sound, but no periodic tone in the asked range
    no_fit,        ///< the model did not reach the noise, or did not converge
    no_contrast,   ///< the alternatives differ too little to tell them apart
    bad_argument,  ///< the request itself makes no sense (rate, range, empty list)
};

/// One plain sentence fragment for a report, such as "the record is silent".
[[nodiscard]] std::string_view explain(refusal r) noexcept;

/// A value, or the reason why there is none.
template <class T>
using outcome = tl::expected<T, refusal>;

[[nodiscard]] inline tl::unexpected<refusal> refuse(refusal r) {
    return tl::unexpected<refusal>{r};
}

}  // namespace cvrig::analysis
