#pragma once

#include <ostream>

#include "rig/history/database.hpp"
#include "rig/history/stored_run.hpp"

namespace cvrig::history {

/// Writes every finding of the runs asked for, oldest run first, as CSV (RFC 4180, UTF-8, with a head): one row each, with its
/// run, build, unit and bench beside it. Readings are in the base unit that stands beside them. Runs are read one by one, so that
/// the size of the history does not matter.
void export_csv(database& in, const run_question& which, std::ostream& out);

/// The same as one JSON document (RFC 8259): {"format": "cvrig history 1", "runs": [...]}.
void export_json(database& in, const run_question& which, std::ostream& out);

}  // namespace cvrig::history
