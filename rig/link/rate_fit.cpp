#include <cmath>

#include "rig/link/exchange_job.hpp"

namespace cvrig {

namespace {

constexpr double fewest_callbacks = 3.0;

}  // namespace

// Welford's update, so that an hour of callbacks loses no digits.
void rate_fit::add(double frames, steady_time at) noexcept {
    if (n_ == 0.0) first_ = at;
    const double t = std::chrono::duration<double>(at - first_).count();
    n_ += 1.0;
    const double from_frames = frames - mean_frames_;
    const double from_seconds = t - mean_seconds_;
    mean_frames_ += from_frames / n_;
    mean_seconds_ += from_seconds / n_;
    frames_squared_ += from_frames * (frames - mean_frames_);
    frames_seconds_ += from_frames * (t - mean_seconds_);
    seconds_squared_ += from_seconds * (t - mean_seconds_);
}

double rate_fit::seconds_per_frame() const noexcept {
    return frames_seconds_ / frames_squared_;
}

double rate_fit::frames_per_second() const noexcept {
    if (n_ < fewest_callbacks || frames_seconds_ <= 0.0) return 0.0;
    return 1.0 / seconds_per_frame();
}

double rate_fit::u_frames_per_second() const noexcept {
    const double rate = frames_per_second();
    if (rate == 0.0) return 0.0;
    const double left = seconds_squared_ - frames_seconds_ * seconds_per_frame();
    const double u_slope = std::sqrt(std::max(0.0, left) / (n_ - 2.0) / frames_squared_);
    return u_slope * rate * rate;
}

}  // namespace cvrig
