#pragma once

#include <chrono>
#include <optional>
#include <span>
#include <string>
#include <vector>

#include "rig/platform/byte_stream.hpp"

namespace cvrig {

/// How a program ended.
struct program_end {
    bool exited{false};
    int status{0};  ///< exit status, if it exited
    int signal{0};  ///< the signal that ended it, if one did
};

/// A program that tells lines on a descriptor of its own (3) and takes lines on its stdin.
///
/// It gets a process group of its own, which is killed with this object. What is `shared` it finds as
/// 4, 5, ..., and its `variables` (NAME=value) beside ours or in their place.
class followed_program {
public:
    /// Throws std::system_error when the machine is out of pipes or memory; any other failure to start
    /// is told by problem().
    followed_program(std::span<const std::string> argv, std::span<const int> shared,
                     std::vector<std::string> variables = {});
    followed_program(const followed_program&) = delete;
    followed_program& operator=(const followed_program&) = delete;
    ~followed_program();

    /// Completes "cannot start ...: "; empty if it runs.
    [[nodiscard]] const std::string& problem() const noexcept { return problem_; }

    /// The lines that have come since, without their ends; waits for something at most that long.
    [[nodiscard]] std::vector<std::string> lines(std::chrono::milliseconds wait);
    void write(std::string_view text) const;

    void interrupt() const noexcept;  ///< as a person would (SIGINT)
    void kill() const noexcept;       ///< with everything that it has started

    /// Nothing while it runs. The first answer reaps it, after which nothing of its group is left.
    [[nodiscard]] std::optional<program_end> end();

    /// The last of what it said on stdout and stderr.
    [[nodiscard]] const std::string& said() const noexcept { return said_; }
    [[nodiscard]] const std::string& complaints() const noexcept { return complaints_; }

private:
    int pid_{-1};
    std::optional<program_end> end_;
    byte_stream told_, in_, out_, err_;
    std::string half_line_, said_, complaints_, problem_;
};

}  // namespace cvrig
