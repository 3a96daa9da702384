#pragma once

#include <cstddef>
#include <string>
#include <string_view>
#include <vector>

namespace cvrig {

/// Makes lines of bytes that come in pieces.
///
/// LF, CR and CR LF each end a line; empty lines are left out. A line longer than the limit keeps
/// its beginning, and says how many bytes were cut. What is no printable UTF-8 is spelled out
/// ("\x00"), as is a backslash before an x, so that no two lines look the same.
class line_assembler {
public:
    static constexpr std::size_t longest = 4096;

    /// The lines that `bytes` complete.
    [[nodiscard]] std::vector<std::string> add(std::string_view bytes);

    /// What has come since the last line end, as if the line ended here; empty for nothing.
    [[nodiscard]] std::string finish();

    /// What finish() would give, without ending the line.
    [[nodiscard]] std::string unfinished() const;

private:
    std::string held_;
    std::size_t cut_{0};
};

/// Printable UTF-8 on one line; other bytes spelled out.
[[nodiscard]] std::string spelled_out(std::string_view bytes);

/// Without the blanks and spelled-out bytes at both ends, such as a line's noise after a reset.
[[nodiscard]] std::string_view bare_text(std::string_view line);

}  // namespace cvrig
