#pragma once

#include <sys/types.h>

#include <span>
#include <string>

#include "rig/platform/descriptor.hpp"

namespace cvrig {

/// What a program finds on its stdin.
enum class program_input { nothing, pipe };

/// A child in a process group of its own, with the reading ends of its stdout and stderr, and the
/// writing end of its stdin if that is a pipe.
struct started_process {
    pid_t pid{-1};
    int error{0};  ///< errno if it could not start; then there is no child
    descriptor in;
    descriptor out;
    descriptor err;
};

/// Starts a program with default signal handling and no descriptor of ours but the pipes; none of
/// our ends blocks. Without a pipe its stdin is /dev/null. Throws std::system_error when the
/// machine is out of pipes or memory.
[[nodiscard]] started_process start_process(std::span<const std::string> argv,
                                            program_input input = program_input::nothing);

/// An errno of a failed start, in words that complete "cannot start ...: ".
[[nodiscard]] std::string why_not_started(int error);

}  // namespace cvrig
