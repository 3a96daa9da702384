#pragma once

#include <cstdint>
#include <optional>
#include <string>
#include <string_view>
#include <vector>

#include "analysis/units.hpp"

namespace cvrig::evidence {

/// One channel of a sound member: the sample value 1.0 (full scale) is so many volts.
struct packed_channel {
    std::string jack;
    volts full_scale{1.0};
};

/// What a sound member holds.
struct packed_sound {
    sample_rate rate{48000.0};
    std::size_t frames{0};
    std::vector<packed_channel> channels;
    std::string why_wave{};  ///< why it is WAV of 32-bit floats and not FLAC; empty for FLAC
};

/// One member of an evidence file.
struct packed_member {
    std::string name;
    std::uintmax_t bytes{0};
    std::string sha256;
    std::optional<packed_sound> sound{};
};

/// The firmware file, whether its bytes are in the evidence or not.
struct packed_image {
    std::uintmax_t bytes{0};
    std::string sha256;
    bool is_inside{false};
};

/// What an evidence file says of itself: what was judged and every member with its hash. Names are as
/// they were after everything personal was taken out.
struct manifest {
    std::string packed_by;  ///< version of the rig that packed
    std::string read_by;    ///< version of the rig that took the readings
    std::string started;    ///< of the run; ISO 8601, UTC
    std::string module, unit, build_name, build_sha256, bench_name;
    /// Of the two files as the run had them. Those inside have no comments and other hashes.
    std::string expectations_sha256, bench_sha256;
    std::optional<packed_image> image{};
    std::vector<std::string> left_out;  ///< what is not inside or was replaced: one sentence each
    std::vector<packed_member> members;

    /// The member of that name; null if there is none.
    [[nodiscard]] const packed_member* find(std::string_view name) const noexcept;
};

/// JSON with the line "format": "cvrig evidence 1"; keys come in a fixed order.
[[nodiscard]] std::string manifest_text(const manifest& m);

/// What manifest_text() wrote. `file` is the evidence file, for the sentences.
///
/// Refuses: throws user_error for anything else, a newer format, a name that is_member_name() refuses or
///          that comes twice, a size or number of frames beyond what cvrig writes, a scale that is no power
///          of two, and if the members together would fill more than 64 GiB.
[[nodiscard]] manifest read_manifest(std::string_view text, const std::string& file);

}  // namespace cvrig::evidence
