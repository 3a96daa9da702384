#pragma once

#include <filesystem>

#include "rig/checks/outside_facts.hpp"

namespace cvrig {

/// The firmware file's facts. Throws user_error if it cannot be read or is larger than 1 GiB.
[[nodiscard]] image_facts facts_of_image(const std::filesystem::path& file);

/// Writes the facts of a run beside its kept takes: `facts.json`, and the firmware file as `image`.
void keep_facts(const std::filesystem::path& folder, const outside_facts& facts);

/// Removes what an earlier run kept in the folder, takes and facts, so that none of it is taken for
/// this run's. Throws user_error if it cannot.
void forget_kept(const std::filesystem::path& folder);

/// What keep_facts() wrote; of a folder without it, nothing is known. Throws user_error if a file is
/// there and cannot be understood, or if the firmware file is not the one that the facts tell of.
[[nodiscard]] outside_facts read_kept_facts(const std::filesystem::path& folder);

}  // namespace cvrig
