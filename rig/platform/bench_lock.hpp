#pragma once

#include <filesystem>
#include <optional>
#include <string>
#include <utility>

#include "rig/platform/descriptor.hpp"

namespace cvrig {

/// Who has a lock, as the lock's file says.
struct lock_holder {
    int pid{0};        ///< 0: unknown
    std::string what;  ///< the command, in words for a sentence
    bool lives{false};
};

/// A lock on something that only one program may use at a time, kept in a file (flock).
///
/// It goes with this object, and with the program however that ends. A program that was started with
/// its descriptor shares it: the lock is free once both are gone.
class bench_lock {
public:
    /// Takes the lock for this program; nothing if somebody else has it. Throws user_error if the
    /// file cannot be made.
    [[nodiscard]] static std::optional<bench_lock> take(const std::filesystem::path& file,
                                                        const std::string& what);

    bench_lock(bench_lock&&) = default;
    bench_lock& operator=(bench_lock&&) = delete;
    bench_lock(const bench_lock&) = delete;
    bench_lock& operator=(const bench_lock&) = delete;

    [[nodiscard]] int number() const noexcept { return file_.number(); }

private:
    explicit bench_lock(descriptor file) : file_{std::move(file)} {}

    descriptor file_;
};

/// Who took the lock last.
[[nodiscard]] lock_holder holder_of(const std::filesystem::path& file);

}  // namespace cvrig
