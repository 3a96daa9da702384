#pragma once

#include <string>

#include "rig/link/link.hpp"

namespace cvrig::testing {

/// The demo module in this process, calibrated, with one fault or none: a table of all faults is
/// hours of sound, for which starting a program each time would cost more than the sound.
class ferrule_link : public link {
public:
    /// `fault` as "name:magnitude"; empty for the good build.
    ferrule_link(unsigned unit, std::string fault) : unit_{unit}, fault_{std::move(fault)} {}

    [[nodiscard]] take play(const stimulus& sent, const setting_choice& choice, int number,
                            int attempt) override;
    [[nodiscard]] std::string description() const override;

private:
    unsigned unit_;
    std::string fault_;
};

}  // namespace cvrig::testing
