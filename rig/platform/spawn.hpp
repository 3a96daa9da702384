#pragma once

#include <sys/types.h>

#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "rig/platform/descriptor.hpp"

namespace cvrig {

/// What a program finds on its stdin.
enum class program_input { nothing, pipe };

struct start_options {
    program_input input{program_input::nothing};
    std::filesystem::path folder{};  ///< in which it runs; empty: ours
    bool as_one_stream{false};       ///< what it writes to stderr comes out of `out`, too
    std::vector<int> shared{};  ///< descriptors of ours that it finds as 3, 4, ... in this order
    std::vector<std::string> variables{};  ///< NAME=value, beside or instead of ours
};

/// A child in a process group of its own, with the reading ends of its stdout and stderr, and the
/// writing end of its stdin if that is a pipe.
struct started_process {
    pid_t pid{-1};
    int error{0};  ///< errno if it could not start; then there is no child
    descriptor in;
    descriptor out;
    descriptor err;
};

/// Starts a program with default signal handling and no descriptor of ours but the pipes and those
/// that are shared; none of our ends blocks. Without a pipe its stdin is /dev/null. A folder that is
/// not there is an error as if the program were not. Throws std::system_error when the machine is out
/// of pipes or memory.
[[nodiscard]] started_process start_process(std::span<const std::string> argv,
                                            const start_options& options = {});

/// An errno of a failed start, in words that complete "cannot start ...: ".
[[nodiscard]] std::string why_not_started(int error);

}  // namespace cvrig
