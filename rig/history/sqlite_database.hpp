#pragma once

#include <chrono>
#include <memory>
#include <string>

#include "rig/history/database.hpp"

namespace cvrig::history {

/// A history in one SQLite file, with a write-ahead log, so that readers and one writer do not wait
/// for each other; a second writer waits for the first one, at most `patience`. A written transaction
/// survives a power cut.
///
/// Refuses: throws store_error, as open_history().
[[nodiscard]] std::unique_ptr<database> open_sqlite(
    const std::string& file, opening how,
    std::chrono::milliseconds patience = std::chrono::seconds{10});

}  // namespace cvrig::history
