#pragma once

#include <chrono>
#include <optional>
#include <stop_token>
#include <string>

namespace cvrig {

/// What came of waiting for a line from a person.
struct typed_line {
    enum class end { line, closed, stopped };
    end how{end::line};
    std::string text;  ///< without its line end
};

/// Lines that somebody types, from a terminal or a pipe. Does not own the descriptor.
class line_input {
public:
    explicit line_input(int descriptor) noexcept : descriptor_{descriptor} {}

    /// Waits for a line, the end of the input, or a stop.
    [[nodiscard]] typed_line next(const std::stop_token& stop);

    /// Forgets what was typed before it was asked for. Only on a terminal: what a file or a pipe
    /// holds is meant for later.
    void forget_what_was_typed();

private:
    int descriptor_;
    std::string held_;
};

/// Writes all of it, however the terminal is set; what cannot be written is lost.
void write_text(int descriptor, const std::string& text);

/// The same for somebody who may be slow to read: false if not all of it was taken within the time,
/// or nobody reads any more.
[[nodiscard]] bool write_line(int descriptor, const std::string& line,
                              std::chrono::milliseconds wait);

}  // namespace cvrig
