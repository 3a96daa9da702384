#include "rig/expectations/note_name.hpp"

#include <array>
#include <charconv>

namespace cvrig {

namespace {

/// Semitones above C of the letters A to G.
constexpr std::array<int, 7> above_c{9, 11, 0, 2, 4, 5, 7};

std::optional<int> octave(std::string_view text) noexcept {
    int number = 0;
    const auto* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, number);
    if (read.ec != std::errc{} || read.ptr != end || number < -1 || number > 10) return {};
    return number;
}

}  // namespace

std::optional<hertz> note_frequency(std::string_view name) noexcept {
    if (name.size() < 2 || name[0] < 'A' || name[0] > 'G') return std::nullopt;
    int steps = above_c[static_cast<std::size_t>(name[0] - 'A')];
    name.remove_prefix(1);
    if (name[0] == '#' || name[0] == 'b') {
        steps += name[0] == '#' ? 1 : -1;
        name.remove_prefix(1);
    }
    const auto o = octave(name);
    if (!o) return std::nullopt;
    const int above_a4 = 12 * (*o + 1) + steps - 69;
    return raised(hertz{440.0}, cents{100.0 * above_a4});
}

}  // namespace cvrig
