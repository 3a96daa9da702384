#pragma once

#include <chrono>
#include <span>
#include <string>

#include "rig/platform/byte_stream.hpp"
#include "rig/platform/process.hpp"

namespace cvrig {

/// A program that runs on while we talk to it: its stdout is read, its stdin is written.
///
/// It gets a process group of its own, which is ended with this object: asked to end, and killed
/// after a short grace.
class talking_program {
public:
    /// Throws std::system_error only when the machine is out of pipes or memory; any other failure
    /// to start is told by problem().
    explicit talking_program(std::span<const std::string> argv);
    talking_program(const talking_program&) = delete;
    talking_program& operator=(const talking_program&) = delete;
    ~talking_program();

    /// Completes "cannot start ...: "; empty if it runs.
    [[nodiscard]] const std::string& problem() const noexcept { return problem_; }

    [[nodiscard]] moved_bytes read_some(std::span<char> into, std::chrono::milliseconds wait);
    [[nodiscard]] moved_bytes write(std::string_view bytes, std::chrono::milliseconds wait) const;

    /// What it last said on stderr, shortened to its end.
    [[nodiscard]] const std::string& complaints() const noexcept { return complaints_; }

private:
    void listen_to_complaints(std::chrono::milliseconds wait);

    int pid_{-1};
    byte_stream stream_;
    byte_stream complaining_;
    std::string complaints_;
    std::string problem_;
};

}  // namespace cvrig
