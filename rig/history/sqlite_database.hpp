#pragma once

#include <memory>
#include <string>

#include "rig/history/database.hpp"

namespace cvrig::history {

/// A history in one SQLite file, with a write-ahead log, so that readers and one writer do not wait
/// for each other. A written transaction survives a power cut.
///
/// Refuses: throws store_error, as open_history().
[[nodiscard]] std::unique_ptr<database> open_sqlite(const std::string& file, opening how);

}  // namespace cvrig::history
