#pragma once

#include <cstdint>

namespace ferrule {

/// A small reproducible noise source: the same seed gives the same noise on every platform, which
/// the distributions of the standard library do not promise.
class noise_source {
public:
    explicit constexpr noise_source(std::uint64_t seed) noexcept : state_{seed} {}

    /// Near-normal deviate of mean 0 and standard deviation 1: four uniform 16-bit pieces summed.
    constexpr double normal() noexcept {
        const std::uint64_t bits = next();
        const auto sum = (bits & 0xffffU) + ((bits >> 16U) & 0xffffU) + ((bits >> 32U) & 0xffffU) +
                         (bits >> 48U);
        return (static_cast<double>(sum) - 4.0 * 32767.5) * (1.7320508075688772 / 65536.0);
    }

    /// Uniform from -1 to 1.
    constexpr double uniform() noexcept {
        return static_cast<double>(next() >> 11U) * (2.0 / 9007199254740992.0) - 1.0;
    }

private:
    /// splitmix64: passes through every 64-bit state, so no seed is a bad one.
    constexpr std::uint64_t next() noexcept {
        state_ += 0x9e3779b97f4a7c15U;
        std::uint64_t z = state_;
        z = (z ^ (z >> 30U)) * 0xbf58476d1ce4e5b9U;
        z = (z ^ (z >> 27U)) * 0x94d049bb133111ebU;
        return z ^ (z >> 31U);
    }

    std::uint64_t state_;
};

}  // namespace ferrule
