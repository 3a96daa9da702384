#pragma once

namespace cvrig {

/// For a program that another one has started: SIGTERM comes to it when the thread that started it
/// ends, so that nothing goes on sounding that nobody looks after. `listener` is a pipe to the other
/// program; if nobody reads it any more, SIGTERM comes at once. Writing to a pipe that nobody reads
/// is from now on a failed write, not the program's end.
void end_with_parent(int listener) noexcept;

/// The number of the program that started this one.
[[nodiscard]] int parent_number() noexcept;
/// The number of this program.
[[nodiscard]] int own_number() noexcept;

}  // namespace cvrig
