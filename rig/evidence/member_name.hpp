#pragma once

#include <string>
#include <string_view>

namespace cvrig::evidence {

/// The members that evidence may have beside the takes.
namespace member {
inline constexpr std::string_view manifest{"manifest.json"};
inline constexpr std::string_view report{"report.json"};
inline constexpr std::string_view expectations{"expectations.yaml"};
inline constexpr std::string_view bench{"bench.yaml"};
inline constexpr std::string_view trim{"trim.yaml"};
inline constexpr std::string_view run{"run.json"};
inline constexpr std::string_view facts{"facts.json"};
inline constexpr std::string_view image{"image"};
inline constexpr std::string_view log{"run.log"};
}  // namespace member

/// True for the name of a file that evidence may have: one of the names above but the manifest, or
/// takes/NAME/FILE, where FILE is take.json, or stimulus or response with a number, as .flac or
/// .wav. Such a name can lead nowhere but into the folder that it is unpacked to.
[[nodiscard]] bool is_member_name(std::string_view name) noexcept;

/// "takes/NAME" of a member of a take; empty for others.
[[nodiscard]] std::string_view take_of(std::string_view member) noexcept;

/// True for a member that holds sound.
[[nodiscard]] bool is_sound(std::string_view member) noexcept;

/// True for "stimulus-1.flac" and so on, wherever it lies.
[[nodiscard]] bool is_stimulus(std::string_view member) noexcept;

}  // namespace cvrig::evidence
