#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace ferrule {

/// Cuts arriving bytes into lines. LF, CR and CR LF all end one; empty lines do not count.
class line_cutter {
public:
    void add(std::string_view bytes);
    [[nodiscard]] std::optional<std::string> next();

private:
    static constexpr std::size_t longest_line = 4096;
    std::string bytes_;
};

/// Lines from a descriptor, without waiting for them.
class line_reader {
public:
    explicit line_reader(int number) noexcept : number_{number} {}

    /// The next line that has come whole.
    [[nodiscard]] std::optional<std::string> next();

    /// What to wait on for more; -1 when no more can come.
    [[nodiscard]] int number() const noexcept { return number_; }

private:
    int number_;
    line_cutter cutter_;
};

}  // namespace ferrule
