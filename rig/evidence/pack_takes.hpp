#pragma once

#include <cstdint>
#include <filesystem>

#include "rig/evidence/gathering.hpp"
#include "rig/evidence/scrub.hpp"

namespace cvrig::evidence {

/// Every kept take of a run, in the order of their names: description, stimulus, response. Gives back the bytes
/// that their sound took as it was kept. Throws user_error for a take that cannot be read.
std::uintmax_t pack_takes(gathering& to, const std::filesystem::path& run,
                          const private_names& names);

}  // namespace cvrig::evidence
