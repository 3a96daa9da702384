#pragma once

#include "demo/block.hpp"
#include "demo/faults.hpp"
#include "demo/noise.hpp"
#include "demo/specimen.hpp"

#include <span>
#include <vector>

namespace ferrule {

/// From the firmware's one sound to the volts of two output jacks.
class output_stage {
public:
    output_stage(const specimen& unit, const fault_set& faults, double rate_hertz,
                 std::uint64_t seed) noexcept;

    /// `neighbour_volts` runs on the board beside the outputs: what a bad layout lets through.
    void process(std::span<const double, block_frames> sound,
                 std::span<const double, block_frames> neighbour_volts, output_block& out) noexcept;

private:
    [[nodiscard]] double gain_of(std::size_t channel) const noexcept;
    [[nodiscard]] double late_samples_of(std::size_t channel) const noexcept;
    [[nodiscard]] double delayed(double late_samples) const noexcept;
    [[nodiscard]] double disturbance_volts() noexcept;
    [[nodiscard]] bool drops_out() noexcept;
    [[nodiscard]] double crackle_volts() noexcept;

    fault_set faults_;
    double rate_hertz_;
    std::array<double, output_count> gain_volts_{};
    std::array<double, output_count> dc_volts_{};
    std::array<double, output_count> late_samples_{};
    noise_source noise_;
    noise_source trouble_;
    std::vector<double> past_;
    std::size_t at_ = 0;
    double played_samples_ = 0.0;
};

}  // namespace ferrule
