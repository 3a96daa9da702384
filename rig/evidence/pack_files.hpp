#pragma once

#include <filesystem>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/evidence/gathering.hpp"
#include "rig/evidence/scrub.hpp"

/// The files that a user wrote, packed and read again as whoever opens the evidence will.
namespace cvrig::evidence {

/// The run's expectation file as it is but for its comments: judging goes by every word. How many words of it
/// look personal all the same. Throws user_error.
std::size_t pack_expectations(gathering& to, const std::filesystem::path& run,
                              const private_names& names);

/// The run's bench file, with the trim constants of `kept` if there are any. The bench as a reader of the
/// evidence will have it. Throws user_error.
bench pack_bench(gathering& to, const std::filesystem::path& run, const bench& kept,
                 const private_names& names);

/// A file's bytes. Throws user_error.
[[nodiscard]] std::string bytes_of(const std::filesystem::path& file);

}  // namespace cvrig::evidence
