#pragma once

#include <filesystem>
#include <vector>

namespace ferrule {

/// Sound as it lies in a file: frames one after another, channels side by side, 1.0 = 1 volt.
struct sound {
    int rate_hertz = 48000;
    int channels = 1;
    std::vector<float> samples;

    [[nodiscard]] std::size_t frames() const noexcept {
        return samples.size() / static_cast<std::size_t>(channels);
    }
};

/// Reads a WAV file; throws user_mistake when it cannot be read or is not finite.
[[nodiscard]] sound read_sound(const std::filesystem::path& path);

/// Writes a 32-bit float WAV file under a temporary name and then renames it, so that no reader
/// ever sees half a file; throws user_mistake when that fails.
void write_sound(const std::filesystem::path& path, const sound& what);

}  // namespace ferrule
