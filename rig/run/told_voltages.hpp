#pragma once

#include "rig/bench/bench.hpp"
#include "rig/console/console.hpp"
#include "rig/run/voltage_source.hpp"

namespace cvrig {

/// The voltages of a bench whose module is a program: a console line says what each jack holds.
class told_voltages : public voltage_source {
public:
    /// `line` has {jack} and {volts}; all must outlive this object.
    told_voltages(const bench& b, const module_expectations& m, console& talks)
        : bench_{b}, module_{m}, console_{talks} {}

    std::string hold(const std::map<std::string, volts>& at) override;
    [[nodiscard]] bool has_sense(const std::string&) const override { return false; }
    [[nodiscard]] std::optional<sensed_voltage> sense(const std::string&) override { return {}; }
    [[nodiscard]] bool is_real() const override { return false; }

private:
    const bench& bench_;
    const module_expectations& module_;
    console& console_;
};

}  // namespace cvrig
