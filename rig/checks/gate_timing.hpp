#pragma once

#include <cstdint>
#include <random>

#include "analysis/tone.hpp"
#include "rig/checks/check.hpp"

/// What the checks of gates share: how they are sent at random times, and what the bench adds to a
/// time that is read.
namespace cvrig {

/// Standard uncertainty of all times of a take by the way in which its record was laid beside what
/// was sent.
///
/// A program link's sample 0 is the stimulus's sample 0. An audio link finds the latency with its
/// loop-back cable to better than a hundredth of a sample and then cuts at the nearest sample: a
/// rectangular distribution of one sample (JCGM 100:2008, 4.3.7). Without that cable the latency is
/// what the bench file says, which a driver rounds to its blocks.
[[nodiscard]] seconds alignment_uncertainty(const check_request& request);

/// Waiting times that no block rate of a module can follow, the same for the same seed.
class random_waits {
public:
    explicit random_waits(unsigned seed) : random_{seed} {}
    /// Uniform from `least` to `most`, in steps of 1 us so that reports can print them.
    [[nodiscard]] seconds next(seconds least, seconds most);

private:
    std::mt19937_64 random_;
};

/// The pitch of a note that should sound at `nominal`, from the first of some stretches that has
/// one: a module whose tuning is wrong is timed all the same.
[[nodiscard]] analysis::outcome<hertz> sounding_pitch(const heard_passage& heard, hertz nominal,
                                                      std::span<const std::size_t> steps,
                                                      seconds skip);

/// The jack that is listened to: the first.
inline constexpr std::size_t timed_jack = 0;

}  // namespace cvrig
