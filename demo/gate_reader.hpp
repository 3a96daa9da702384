#pragma once

#include "demo/faults.hpp"
#include "demo/noise.hpp"
#include "demo/trigger.hpp"

namespace ferrule {

/// The gate as the firmware sees it, once a block.
class gate_reader {
public:
    gate_reader(double trip_volts, const fault_set& faults, double block_seconds) noexcept;

    bool read(double volts) noexcept;

private:
    [[nodiscard]] bool polled(double volts) noexcept;
    [[nodiscard]] bool debounced(bool high) noexcept;
    [[nodiscard]] bool held(bool high) noexcept;
    [[nodiscard]] bool jittered(bool high) noexcept;
    [[nodiscard]] bool caught(bool high) noexcept;
    [[nodiscard]] bool bounced(bool high) noexcept;

    fault_set faults_;
    double block_seconds_;
    trigger trigger_;
    noise_source noise_{1};
    double since_poll_seconds_ = 1.0;
    double since_high_seconds_ = 1e9;
    int jitter_left_ = 0;
    double lost_share_ = 0.0;
    bool losing_ = false;
    bool was_high_ = false;
    double bounce_share_ = 0.0;
    double since_rise_seconds_ = 1e9;
    bool was_held_ = false;
    bool bouncing_ = false;
    bool seen_ = false;
    bool counted_ = false;
    double unlike_seconds_ = 0.0;
    bool steady_ = false;
};

}  // namespace ferrule
