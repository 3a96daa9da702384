#pragma once

#include <string>

#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// Number of notes that a stair has going one way.
[[nodiscard]] int notes_one_way(const note_stair& s) noexcept;

/// What a value of a check says: "at most 5 cent either way", "goes on", "400 ms", "49 notes from 0
/// V to 4 V, one every 83.33 mV (100 cent), up and then down", "0 V to 1 V and 2 V to 1 V".
[[nodiscard]] std::string in_words(const value& v, const pitch_law& law);

}  // namespace cvrig
