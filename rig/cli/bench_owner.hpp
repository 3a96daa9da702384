#pragma once

#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/platform/bench_lock.hpp"

namespace cvrig {

/// Owns what plays on a bench for as long as the locks live: two programs that played into one module
/// would both be wrong about it. Empty on a bench whose module is a program, where no lock can be kept
/// (no home folder, say), and for a run whose starter owns the bench.
///
/// `what` is the command, for whoever comes second. `owned`: the program that started this one says
/// that it owns the bench.
/// Refuses: throws service::bench_in_use, which names the holder.
[[nodiscard]] std::vector<bench_lock> own_to_play(const bench& b, const std::string& what,
                                                  bool owned = false);

}  // namespace cvrig
