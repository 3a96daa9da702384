#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "rig/evidence/manifest.hpp"
#include "rig/evidence/scrub.hpp"

namespace cvrig::evidence {

/// What is to be packed.
struct pack_request {
    std::filesystem::path run;  ///< the report folder of a run with --keep-takes
    std::filesystem::path to;   ///< the evidence file; empty: named after what was judged
    bool with_image{false};
    std::string rig_version;
    private_names names;
};

/// What came of it.
struct packed_run {
    std::filesystem::path file;
    manifest what;
    std::string fingerprint;  ///< SHA-256 of the manifest, which holds that of every member
    /// What looks personal and had to stay, since judging goes by it: one sentence each.
    std::vector<std::string> stays;
    std::uintmax_t bytes{0};
    std::uintmax_t bytes_before{0};  ///< of the same sound as it was kept
};

/// Makes the evidence file of a run: equal folders give equal bytes. Nothing is left behind if it fails.
///
/// Refuses: throws user_error for a folder without a report, without takes, with files that cvrig did not
///          write; if the firmware file is asked for and was not kept; if the file cannot be written.
[[nodiscard]] packed_run pack_run(const pack_request& asked);

/// "Ferrule-7-good.cvrig-evidence": module, unit and build of a run.
[[nodiscard]] std::string evidence_name(const manifest& m);

inline constexpr const char* evidence_ending = ".cvrig-evidence";

}  // namespace cvrig::evidence
