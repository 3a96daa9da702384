#pragma once

#include <chrono>
#include <filesystem>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/bench_lock.hpp"

/// One bench has one owner: two that played into one module would both be wrong about it.
namespace cvrig::service {

/// Somebody else owns the bench: who, and what to do.
class bench_in_use : public user_error {
public:
    using user_error::user_error;
};

/// Something of a bench that only one program may use at a time.
struct claim {
    std::string what;            ///< "the audio interface 'desk'"
    std::filesystem::path lock;  ///< in the user's runtime folder
};

/// What has to be owned to play on a bench: of an audio bench its interface and its console. A
/// program can be started by several at once. The console's address is as the run fills it in.
[[nodiscard]] std::vector<claim> claims_to_play(const bench& b);

/// What a daemon owns: the same, and the bench file itself.
[[nodiscard]] std::vector<claim> claims_to_serve(const bench& b);

/// The claim on a bench file, beside which a daemon says how it is reached.
[[nodiscard]] claim claim_on_file(const bench& b);

/// Takes all of it, or none. `what` is the command, for whoever comes second. If the holder has
/// ended, and only what it started still holds on, it waits as long as `patience`.
///
/// Refuses: throws bench_in_use that names the holder and what to do instead.
[[nodiscard]] std::vector<bench_lock> own(const std::vector<claim>& claims, const std::string& what,
                                          std::chrono::milliseconds patience);

}  // namespace cvrig::service
