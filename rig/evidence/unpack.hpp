#pragma once

#include <filesystem>
#include <string>

#include "rig/evidence/manifest.hpp"
#include "rig/evidence/read_report.hpp"

namespace cvrig::evidence {

/// An evidence file that was opened: the folder can be judged again like that of a run.
struct unpacked_run {
    manifest what;
    std::string fingerprint;  ///< SHA-256 of the manifest
    told_run told;            ///< the report as it was packed
};

/// Checks an evidence file against its manifest and unpacks it into `folder`: takes as WAV, the files of the
/// run, the manifest, and the report as it was packed under the name `packed-report.json`. Nothing is
/// put there unless all of it is right.
///
/// Input:   nothing in the file is trusted: names, sizes and hashes must be those of the manifest, which has
///          limits of its own (read_manifest); the disk must have room for all of it.
/// Refuses: throws user_error with one sentence for a file that is damaged, cut off, foreign, of a newer
///          format, or holds anything that the manifest does not tell of; for a folder that holds something
///          else than an earlier opening.
[[nodiscard]] unpacked_run unpack(const std::filesystem::path& file,
                                  const std::filesystem::path& folder);

/// Gives the two files of a report on opened evidence the hashes that they had before their comments were
/// taken out. A report on other files is left as it is. `folder`: where the evidence was unpacked to; any other
/// folder changes nothing. Throws user_error for a manifest that cannot be used.
void name_originals(told_run& told, const std::filesystem::path& folder);

/// The folder for an evidence file that names none: beside the file, "NAME-opened".
[[nodiscard]] std::filesystem::path folder_for_opening(const std::filesystem::path& file);

inline constexpr const char* packed_report_name = "packed-report.json";

}  // namespace cvrig::evidence
