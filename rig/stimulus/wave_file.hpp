#pragma once

#include <cstddef>
#include <filesystem>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig {

/// Several channels of one length. In a file, the sample value 1.0 is 1 volt.
struct recording {
    sample_rate rate{48000.0};
    std::vector<std::vector<float>> channels;

    /// Samples in each channel.
    [[nodiscard]] std::size_t size() const noexcept {
        return channels.empty() ? 0 : channels[0].size();
    }
};

/// What a wave file says about itself.
struct wave_format {
    sample_rate rate{0.0};
    std::size_t channels{0};
    std::size_t frames{0};
    bool is_float{false};
    std::string sample_type;  ///< "32 bit float", "Signed 16 bit PCM", ...
};

/// A file that cannot be read as a WAV file.
class wave_file_error : public user_error {
public:
    wave_file_error(const std::filesystem::path& file, std::string reason);

    /// Without the file's name: "it is empty".
    [[nodiscard]] const std::string& reason() const noexcept { return reason_; }

private:
    std::string reason_;
};

/// Writes 32-bit float WAV: equal recordings give equal bytes.
///
/// Input:   1 or more channels of one length, at most 4 GiB in all.
/// Refuses: throws user_error if the file cannot be written.
void write_wave_file(const std::filesystem::path& file, const recording& r);

/// The format of a WAV file, without its samples.
///
/// Refuses: throws wave_file_error for a missing file, one that is not WAV, holds no samples, holds
///          fewer than its header promises, or holds anything but float or PCM.
[[nodiscard]] wave_format read_wave_format(const std::filesystem::path& file);

/// A whole WAV file. PCM full scale reads as 1 V.
///
/// Refuses: as read_wave_format, and another number of channels than `channels`.
[[nodiscard]] recording read_wave_file(const std::filesystem::path& file, std::size_t channels);

}  // namespace cvrig
