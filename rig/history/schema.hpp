#pragma once

#include "rig/history/database.hpp"

namespace cvrig::history {

/// The schema that this cvrig writes.
[[nodiscard]] int newest_schema() noexcept;

/// The schema that a history has; 0: none yet.
[[nodiscard]] int schema_of(database& in);

/// Brings a history from its schema to `version` (for tests; 0: the newest), each step in the one transaction: it is either at the
/// new version or as it was. Two programs that do so at the same time wait for each other.
///
/// Refuses: throws store_error for a schema that is newer than this cvrig's, and for a database of
///          somebody else's.
void migrate(database& in, int version = 0);

}  // namespace cvrig::history
