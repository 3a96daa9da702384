#pragma once

#include <optional>
#include <string_view>

#include "analysis/units.hpp"

namespace cvrig {

/// The frequency of a note name: "C2", "F#3", "Bb1", "C-1".
///
/// Definition: equal temperament, 440 Hz * 2^((n - 69) / 12), n = 12 (octave + 1) + steps above C.
/// Source:     ISO 16:1975 (A above middle C is 440 Hz); octaves in scientific pitch notation, in
///             which middle C is C4.
/// Input:      a capital letter A to G, at most one # or b, an octave from -1 to 10.
[[nodiscard]] std::optional<hertz> note_frequency(std::string_view name) noexcept;

}  // namespace cvrig
