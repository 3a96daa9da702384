#pragma once

#include <cstdint>
#include <functional>
#include <random>
#include <string>
#include <vector>

#include "rig/checks/check.hpp"

namespace cvrig::testing {

/// What a simulated module answers to one passage: one record for each recorded jack, from the
/// passage's first sample to 58 ms behind its last, as the runner cuts it.
using simulated_sound = std::function<std::vector<std::vector<double>>(
    const passage&, std::size_t samples, sample_rate)>;

/// A module and a bench for trying one check on made signals, with their own random errors.
class simulated_desk {
public:
    /// The named check with these keys, each demanding nothing (a limit without sides), and these
    /// parameters. `seed` draws everything that is random.
    simulated_desk(const std::string& check, const std::vector<std::string>& limits,
                   std::uint64_t seed);

    void set(const std::string& key, value v);

    /// Plans the check, lets `sound` answer each passage, adds `noise_volts` of white noise, and
    /// judges.
    [[nodiscard]] check_result judge(const simulated_sound& sound, double noise_volts);

    [[nodiscard]] double normal(double standard_deviation);
    [[nodiscard]] double uniform(double from, double to);

    module_expectations module;
    bench desk;
    /// What every jack gives in the take's opening silence, at seconds from its first sample; nothing
    /// unless set.
    std::function<double(double)> opening{};

private:
    std::string check_;
    std::mt19937_64 random_;
};

}  // namespace cvrig::testing
