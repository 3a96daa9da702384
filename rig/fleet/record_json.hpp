#pragma once

#include <string>
#include <string_view>

#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// A record as JSON, format "cvrig tracking 1". Text that is not UTF-8 is made so.
[[nodiscard]] std::string json_of(const tracking_record& record);

/// A record from such a text, or why it is none.
struct parsed_record {
    tracking_record record;
    std::string wrong;  ///< completes "FILE is no tracking record: "; empty if all is well
};

/// Reads strictly: every key known and there, numbers finite, at least one note.
[[nodiscard]] parsed_record parse_record(std::string_view text);

}  // namespace cvrig
