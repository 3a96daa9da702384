#pragma once

#include <chrono>
#include <cstddef>
#include <cstdint>
#include <deque>
#include <string>
#include <vector>

namespace cvrig {

/// What was said on a console, with times. Holds a bounded number of lines however many come: the
/// first and the last ones, and how many were left out between them.
class console_log {
public:
    using clock = std::chrono::steady_clock;

    /// A line that the module sent unasked.
    void heard(clock::time_point at, std::string line);
    /// What must not drown in them: sent lines, replies, restarts, the port's coming and going.
    void noted(clock::time_point at, char sign, std::string line);

    /// "+12.345 s < line", one a line.
    [[nodiscard]] std::string text(clock::time_point zero) const;

    [[nodiscard]] std::size_t left_out() const noexcept { return unasked_.left_out; }

    void clear();

private:
    struct entry {
        std::uint64_t order;
        clock::time_point at;
        char sign;
        std::string line;
    };
    struct both_ends {
        std::vector<entry> first;
        std::deque<entry> last;
        std::size_t left_out{0};

        void add(entry e, std::size_t most);
    };

    std::uint64_t next_{0};
    both_ends unasked_;
    both_ends noted_;
};

}  // namespace cvrig
