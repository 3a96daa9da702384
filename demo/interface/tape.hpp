#pragma once

#include <cstddef>
#include <span>
#include <vector>

namespace ferrule {

/// How time passes for one channel of the interface; all 0 for a good one.
struct tape_faults {
    double resample_ppm = 0.0;
    double delay_samples = 0.0;
    double drop_samples = 0.0;
    double drop_once_samples = 0.0;
    double repeat_samples = 0.0;
    double repeat_once_samples = 0.0;

    friend bool operator==(const tape_faults&, const tape_faults&) = default;
};

/// A channel's recent past, and the place in it that is played now.
///
/// What is dropped must have been recorded already, so a channel that is going to lose samples or
/// to run fast begins late by as much as it needs.
class tape {
public:
    explicit tape(double rate_hertz);

    void set(const tape_faults& faults) noexcept;
    double next(double volts) noexcept;

private:
    void slip(double volts) noexcept;
    void slip_once(double volts) noexcept;
    [[nodiscard]] double played() const noexcept;
    [[nodiscard]] double at(std::size_t samples_ago) const noexcept;

    double rate_hertz_;
    tape_faults faults_;
    std::span<const double> weights_;
    std::vector<double> past_;
    std::size_t now_ = 0;
    double late_samples_ = 0.0;
    double begin_late_samples_ = 0.0;
    double since_slip_samples_ = 0.0;
    double since_moved_samples_ = -1.0;  ///< negative while the channel rests
    double rest_volts_ = 0.0;
    bool resting_known_ = false;
    bool slipped_once_ = false;
};

}  // namespace ferrule
