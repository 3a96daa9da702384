#pragma once

#include <chrono>
#include <cstddef>
#include <span>
#include <string>
#include <string_view>

#include "rig/platform/descriptor.hpp"

namespace cvrig {

/// How many bytes went through, and whether the other side is gone for good.
struct moved_bytes {
    std::size_t count{0};
    bool gone{false};
};

/// Bytes to and from a terminal, socket or pipe, always within a time limit.
class byte_stream {
public:
    byte_stream() = default;
    /// One descriptor for both ways, or one for each. They must not block.
    explicit byte_stream(descriptor both);
    byte_stream(descriptor in, descriptor out);

    /// Waits until something is there, then takes what there is, at most `into`.
    [[nodiscard]] moved_bytes read_some(std::span<char> into, std::chrono::milliseconds wait) const;

    /// Writes all of `bytes`, or as many as the other side takes within the time.
    [[nodiscard]] moved_bytes write(std::string_view bytes, std::chrono::milliseconds wait) const;

private:
    [[nodiscard]] const descriptor& out() const noexcept { return out_.is_open() ? out_ : in_; }

    descriptor in_;
    descriptor out_;
};

/// A stream, or why there is none: completes "... cannot be opened: ".
struct opened_stream {
    byte_stream stream;
    std::string problem;
};

/// Opens a terminal or pseudo-terminal by its path as a plain wire: no echo, no line editing, no
/// translation. It does not become the program's controlling terminal.
[[nodiscard]] opened_stream open_terminal(const std::string& path);

/// Connects to a host. Waits at most `wait`, also for the host's name to be looked up.
[[nodiscard]] opened_stream connect_to(const std::string& host, unsigned short port,
                                       std::chrono::milliseconds wait);

}  // namespace cvrig
