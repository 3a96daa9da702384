#pragma once

#include <array>
#include <cstddef>
#include <vector>

#include "rig/checks/check.hpp"

namespace cvrig {

/// Where the steps of the envelope check's passages lie.
namespace envelope_steps {
constexpr std::size_t short_note = 1, long_note = 3;
/// The gaps before a note is struck again; the notes lie between them.
constexpr std::array<std::size_t, 3> gaps{2, 4, 6};
constexpr std::size_t first_struck = 1;
constexpr std::size_t closing_note = 1;
}  // namespace envelope_steps

/// Which passage is which; the last is played only where `filter decay` is demanded.
enum envelope_passage : std::size_t { short_and_long, struck_again, filter_closes };

/// The pitch of all its notes.
[[nodiscard]] hertz envelope_pitch(const check_request& request);

/// How long a release is listened to.
[[nodiscard]] seconds envelope_rest(const check_request& request);

[[nodiscard]] std::vector<passage> envelope_passages(const check_request& request);

}  // namespace cvrig
