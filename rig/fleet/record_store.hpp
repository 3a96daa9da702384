#pragma once

#include <filesystem>
#include <span>
#include <string>
#include <vector>

#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

/// Files a record as FOLDER/<module>/<unit>/<build>/<started>-<occasion>[-n].json and says where.
/// Names are made safe, and no file is ever written over: n counts up to the first free name.
/// Refuses: throws user_error for what cannot be written. A record names its module, unit, build and
///          time, and has notes.
std::filesystem::path file_record(const std::filesystem::path& folder,
                                  const tracking_record& record);

/// Makes the folder ready before anything plays, so that a run is not lost to one that cannot be
/// written. Throws user_error.
void prepare_record_folder(const std::filesystem::path& folder);

/// A record and where it lies.
struct filed_record {
    std::filesystem::path file;
    tracking_record record;
};

/// What folders hold.
struct records_read {
    std::vector<filed_record> records;  ///< in the order of their names
    std::vector<std::string> broken;    ///< one sentence for each file that is no record
    std::vector<std::string> repeated;  ///< one for each copy of a record, which counts once
};

/// Reads every *.json in the folders and below. A file may be named instead of a folder.
/// Refuses: throws user_error for a folder that is not there or cannot be read. A broken file does not
///          hide the others.
[[nodiscard]] records_read read_records(std::span<const std::filesystem::path> folders);

}  // namespace cvrig
