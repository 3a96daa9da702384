#pragma once

#include <cstddef>
#include <deque>
#include <string>

namespace ferrule {

/// What can go wrong with a command, as SCPI-99, volume 2, chapter 21.8 numbers it.
namespace scpi {
inline constexpr int no_error = 0;
inline constexpr int data_type_error = -104;
inline constexpr int parameter_not_allowed = -108;
inline constexpr int missing_parameter = -109;
inline constexpr int undefined_header = -113;
inline constexpr int settings_conflict = -221;
inline constexpr int data_out_of_range = -222;
inline constexpr int illegal_parameter_value = -224;
inline constexpr int data_questionable = -231;
inline constexpr int system_error = -310;
inline constexpr int queue_overflow = -350;
}  // namespace scpi

/// The first come is the first told; when there is no room, the newest becomes -350.
class error_queue {
public:
    static constexpr std::size_t room = 16;

    /// `more` says what the number cannot; it may be empty.
    void add(int number, const std::string& more = {});

    /// Removes the oldest and gives it as NUMBER,"TEXT"; 0,"No error" when there is none.
    [[nodiscard]] std::string next();

    void clear() noexcept { waiting_.clear(); }
    [[nodiscard]] std::size_t size() const noexcept { return waiting_.size(); }

private:
    std::deque<std::string> waiting_;
};

/// The bit of the standard event status register that an error sets (SCPI-99, 21.8.9 to 21.8.16).
[[nodiscard]] int event_bit_of(int error) noexcept;

}  // namespace ferrule
