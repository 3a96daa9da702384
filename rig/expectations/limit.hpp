#pragma once

#include <string_view>

#include "rig/expectations/quantity.hpp"
#include "rig/expectations/value.hpp"

namespace cvrig {

/// Reads what a reading must keep to: "within 5 cent" (about 0), "22 ms within 10 %", "C2 within 5
/// cent", "between 3 dB and 8 dB", "at most 1 cent", "at least -60 dB", and for counts "exactly 3"
/// and "none".
///
/// A tolerance in % is a part of the nominal value, except where the quantity itself is a
/// percentage: there it is added and subtracted.
/// Refuses: other words, another dimension, a range that nothing can meet, a time below 0, a count
///          that is not whole.
[[nodiscard]] parsed<limit> parse_limit(std::string_view text, dimension unit,
                                        std::string_view key);

/// How a reading is limited, to end a sentence such as "every note is off by": "at most 5 cent
/// either way", "between 19.8 ms and 24.2 ms (22 ms within 10 %)", "at least -60 dB", "exactly 3".
[[nodiscard]] std::string in_words(const limit& l);

}  // namespace cvrig
