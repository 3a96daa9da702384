#pragma once

#include <string>

#include "rig/evidence/pack_run.hpp"
#include "rig/evidence/unpack.hpp"
#include "rig/report/terminal_style.hpp"

namespace cvrig {

/// What was packed, for a terminal: the file, what it holds, what was left out or replaced, what looks personal
/// and stays, and the fingerprint.
[[nodiscard]] std::string evidence_text(const evidence::packed_run& packed,
                                        const terminal_style& style);

/// What an opened evidence file says of itself, for a terminal.
[[nodiscard]] std::string evidence_text(const evidence::unpacked_run& opened,
                                        const terminal_style& style);

}  // namespace cvrig
