#include "analysis/loop_sequence.hpp"

#include <bit>
#include <cstdint>

namespace cvrig::analysis {

namespace {

// Bit i of a window is the sequence at n + i. The two taps of the register make
// s[n] = s[n - 28] + s[n - 31] over GF(2), so moving a window on by one is multiplying by x modulo
// x^31 + x^3 + 1.
constexpr unsigned register_stages = 31;
constexpr unsigned tap = 28;
constexpr std::uint64_t stage_mask = (std::uint64_t{1} << register_stages) - 1;
constexpr std::uint64_t step_mask = (std::uint64_t{1} << tap) - 1;
constexpr std::uint64_t modulus = (std::uint64_t{1} << 31U) | 0b1001U;
constexpr std::uint64_t period = stage_mask;
// Any start but zero will do; from one with few changes a register with two taps would need
// thousands of steps before its output looks like noise.
constexpr std::uint64_t first_window = 0x4B7A1D63;

// 28 bits follow from 31 at once, as none of them depends on another.
constexpr std::uint64_t next_bits(std::uint64_t window) {
    return ((window >> (register_stages - tap)) ^ window) & step_mask;
}

constexpr std::uint64_t stepped(std::uint64_t window) {
    return (window >> tap) | (next_bits(window) << (register_stages - tap));
}

std::uint64_t product(std::uint64_t a, std::uint64_t b) {
    std::uint64_t out = 0;
    for (; b != 0; b >>= 1U) {
        if ((b & 1U) != 0) out ^= a;
        a <<= 1U;
        if ((a >> register_stages) != 0) a ^= modulus;
    }
    return out;
}

std::uint64_t power_of_x(std::uint64_t exponent) {
    std::uint64_t out = 1;
    for (std::uint64_t square = 2; exponent != 0; exponent >>= 1U) {
        if ((exponent & 1U) != 0) out = product(out, square);
        square = product(square, square);
    }
    return out;
}

// x^n modulo the polynomial names the bits of the first window whose sum is the sequence at n.
std::uint64_t window_at(std::uint64_t n) {
    const auto recipe = power_of_x(n % period);
    auto early = first_window | (next_bits(first_window) << register_stages);
    early |= (next_bits(stepped(first_window)) << (register_stages + tap));
    std::uint64_t out = 0;
    for (unsigned i = 0; i < register_stages; ++i)
        if (std::popcount(recipe & (early >> i)) % 2 != 0) out |= std::uint64_t{1} << i;
    return out;
}

}  // namespace

std::vector<float> loop_sequence(std::size_t samples, std::size_t first) {
    std::vector<float> out(samples);
    auto window = window_at(first);
    for (std::size_t n = 0; n < samples;) {
        auto bits = window;
        for (unsigned i = 0; i < tap && n < samples; ++i, bits >>= 1U)
            out[n++] = (bits & 1U) != 0 ? 1.0F : -1.0F;
        window = stepped(window);
    }
    return out;
}

}  // namespace cvrig::analysis
