#pragma once

#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "tests/support/simulated_interface.hpp"

/// Faults of an audio bench, each with the finding that must name it.
namespace cvrig::testing {

struct bench_fault {
    std::string name;
    interface_manners manners;
    std::string finding;  ///< that must not be in order
    std::string words;    ///< that its sentence must hold
};

/// A bench with three driven jacks, two recorded ones and a loop-back cable.
[[nodiscard]] bench desk();

/// Every fault of the simulated interface, the details drawn from the seed.
[[nodiscard]] std::vector<bench_fault> bench_faults(std::uint64_t seed);

/// Good interfaces of many kinds: delay, filters, noise, drawn from the seed.
[[nodiscard]] interface_manners good_manners(std::uint64_t seed);

}  // namespace cvrig::testing
