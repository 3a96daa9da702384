#pragma once

#include <array>
#include <cstddef>
#include <cstdint>
#include <span>
#include <string>
#include <string_view>

namespace ferrule {

inline constexpr std::size_t desk_channels = 8;

/// What the interface lies between: `out` is from the computer to the sockets, `in` from the
/// sockets to the computer.
enum class desk_side { out, in };

/// Everything that an audio interface, its driver or its cables can do to a voltage.
enum class desk_fault {
    gain,
    inverted,
    cold_leg_shorted,
    mixer,
    crosstalk,
    resample,
    delay,
    drop,
    drop_once,
    repeat,
    repeat_once,
    ac_coupled,
    offset,
    hum,
    noise,
    clip,
    count
};
inline constexpr std::size_t desk_fault_count = static_cast<std::size_t>(desk_fault::count);

struct desk_fault_description {
    desk_fault which;
    std::string_view name;
    std::string_view unit;
    double typical;  ///< a magnitude that spoils a measurement
    std::string_view meaning;
};

/// All of them, in the order of the enumeration.
[[nodiscard]] std::span<const desk_fault_description> all_desk_faults() noexcept;

/// Faults of every channel of both sides; a magnitude of 0 is a good interface, bit for bit.
class desk_faults {
public:
    using channel = std::array<double, desk_fault_count>;

    [[nodiscard]] const channel& of(desk_side side, std::size_t index) const noexcept {
        return magnitudes_[static_cast<std::size_t>(side)][index];
    }
    void set(desk_fault which, desk_side side, std::size_t index, double magnitude) noexcept {
        magnitudes_[static_cast<std::size_t>(side)][index][static_cast<std::size_t>(which)] =
            magnitude;
    }

private:
    std::array<std::array<channel, desk_channels>, 2> magnitudes_{};
};

/// Adds "NAME:MAGNITUDE" for every channel of both sides, or "NAME@PLACE:MAGNITUDE" where PLACE is
/// out, in, out_N or in_N. Throws user_mistake at what is not understood.
void add_desk_fault(desk_faults& into, std::string_view text);

}  // namespace ferrule
