#pragma once

#include <stop_token>

#include "rig/bench/bench.hpp"
#include "rig/link/interface.hpp"
#include "rig/run/voltage_source.hpp"

namespace cvrig {

/// Voltages that an audio interface holds at its outputs. An input of the bench with the name of a
/// driven jack is a splitter's other leg: it sees what stands at that jack.
class played_voltages : public voltage_source {
public:
    /// All must outlive this object.
    played_voltages(audio_interface& to, const bench& b, const module_expectations& m,
                    std::stop_token stop)
        : interface_{to}, bench_{b}, module_{m}, stop_{std::move(stop)} {}

    std::string hold(const std::map<std::string, volts>& at) override;
    [[nodiscard]] bool has_sense(const std::string& jack) const override;
    [[nodiscard]] std::optional<sensed_voltage> sense(const std::string& jack) override;
    [[nodiscard]] bool is_real() const override { return true; }

private:
    audio_interface& interface_;
    const bench& bench_;
    const module_expectations& module_;
    std::stop_token stop_;
    std::vector<volts> held_;
};

}  // namespace cvrig
