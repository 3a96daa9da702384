#pragma once

#include <cstddef>
#include <cstdint>
#include <random>

namespace cvrig {

/// Random numbers that are the same with every compiler and library, so that a seed names a pattern:
/// the engine is specified to the bit (ISO C++ [rand.predef]), the standard's distributions are not,
/// so the mapping is our own.
class pattern_random {
public:
    explicit pattern_random(std::uint64_t seed) : engine_{seed} {}

    /// 0 up to but not 1, in steps of 2^-53.
    [[nodiscard]] double share() { return static_cast<double>(engine_() >> 11U) * 0x1.0p-53; }

    /// 0 up to `count` - 1.
    [[nodiscard]] std::size_t below(std::size_t count) {
        return static_cast<std::size_t>(share() * static_cast<double>(count));
    }

private:
    std::mt19937_64 engine_;
};

}  // namespace cvrig
