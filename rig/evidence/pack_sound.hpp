#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "rig/evidence/archive.hpp"
#include "rig/evidence/manifest.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace cvrig::evidence {

/// A member with the file that holds its bytes.
struct ready_member {
    packed_member what;
    archive_source from;
};

/// Writes the channels of a take into files of at most 8 channels under `folder`, ready to go into an
/// archive as `name`-1.flac and so on.
///
/// A channel's full scale is the smallest power of two that holds it (full_scale_for). Channels that no FLAC
/// can hold, since a sample is not finite or the sample rate is none that its readers know, are WAV of
/// 32-bit floats, and the member says why.
/// Throws user_error if a file cannot be written.
[[nodiscard]] std::vector<ready_member> pack_sound(const std::filesystem::path& folder,
                                                   const std::string& name, const recording& r,
                                                   const std::vector<std::string>& jacks);

/// The sound of several such members again, as one recording. The files lie at `files`.
///
/// Refuses: throws user_error for a file that does not hold what its member says.
[[nodiscard]] recording unpack_sound(const std::vector<packed_member>& members,
                                     const std::vector<std::filesystem::path>& files);

/// By how many volts a sample of these channels may differ from what it was before it was packed.
[[nodiscard]] double rounding_volts(const std::vector<ready_member>& members);

}  // namespace cvrig::evidence
