#include "demo/live/sounding.hpp"

#include <algorithm>
#include <thread>

namespace ferrule {
namespace {

using clock = std::chrono::steady_clock;

/// Until then something is wrong with the audio, not with its speed.
constexpr int patience_ms = 3000;

/// 171 blocks of 24 readings.
constexpr int blocks_measured = static_cast<int>(4096 / block_frames) + 1;

template <typename Ready>
bool wait_until(const Ready& ready) {
    for (int waited_ms = 0; waited_ms < patience_ms && !ready(); ++waited_ms) {
        std::this_thread::sleep_for(std::chrono::milliseconds{1});
    }
    return ready();
}

}  // namespace

sounding::sounding(const module_plan& plan)
    : rate_hertz_{plan.rate_hertz}, playing_{plan, {}, jack_count} {}

bool sounding::give(const live_order& order) {
    if (!orders_.is_free()) return false;
    orders_.put(order);
    return wait_until([this] { return orders_.is_free(); });
}

bool sounding::start_again(const module_plan& plan, live_order order, double silent_seconds) {
    if (!orders_.is_free()) return false;
    next_.emplace(plan, wiring{}, jack_count);
    order.restart = true;
    order.silent_seconds = silent_seconds;
    return give(order);
}

std::optional<double> sounding::measure_pitch_code(live_order order) {
    measured_ = false;
    order.measure_pitch = true;
    if (!give(order) || !wait_until([this] { return measured_.load(); })) return std::nullopt;
    return measured_code_.load();
}

double sounding::seconds() const noexcept {
    return static_cast<double>(frames_.load()) / rate_hertz_;
}

void sounding::obey_orders() noexcept {
    // The new module is copied while the order still keeps its writer away from it. Both have the
    // same sizes, so that no memory is asked for.
    const auto old = order_;
    if (!orders_.peek(order_)) return;
    if (order_.restart) {
        playing_ = *next_;
        silent_frames_ = static_cast<std::size_t>(order_.silent_seconds * rate_hertz_);
    } else {
        if (!(order_.set == old.set)) playing_.module().set(order_.set);
        if (!(order_.stored == old.stored)) playing_.module().set(order_.stored);
    }
    if (order_.measure_pitch) {
        readings_left_ = blocks_measured;
        code_sum_ = 0.0;
    }
    orders_.done();
    if (order_.stall_seconds > 0.0) {
        std::this_thread::sleep_for(std::chrono::duration<double>{order_.stall_seconds});
    }
}

void sounding::follow_measurement() noexcept {
    if (++frame_of_block_ < block_frames) return;
    frame_of_block_ = 0;
    if (readings_left_ == 0) return;
    code_sum_ += playing_.module().pitch_code();
    if (--readings_left_ > 0) return;
    measured_code_ = code_sum_ / blocks_measured;
    measured_ = true;
}

void sounding::play_frame(std::span<const float, jack_count> in,
                          std::span<float, output_count> out) noexcept {
    if (silent_frames_ > 0) {
        --silent_frames_;
        out[0] = out[1] = 0.0F;
        return;
    }
    playing_.process(in, out);
    follow_measurement();
    fade();
    for (std::size_t i = 0; i < output_count; ++i) out[i] *= gains_[i];
}

/// An output that is switched on or off gets there without a click.
void sounding::fade() noexcept {
    constexpr float step = 1.0F / 256.0F;
    const std::array<bool, output_count> on{!order_.muted && order_.route != route::right,
                                            !order_.muted && order_.route != route::left};
    for (std::size_t i = 0; i < output_count; ++i) {
        gains_[i] = std::clamp(gains_[i] + (on[i] ? step : -step), 0.0F, 1.0F);
    }
}

void sounding::note_load(clock::duration busy, std::size_t frames) noexcept {
    const double share =
        std::chrono::duration<double>{busy}.count() * rate_hertz_ / static_cast<double>(frames);
    load_percent_ = load_percent_ + 0.02 * (100.0 * share - load_percent_);
}

void sounding::process(std::size_t frames, std::span<const float* const> in,
                       std::span<float* const> out) noexcept {
    obey_orders();
    const auto began = clock::now();
    for (std::size_t at = 0; at < frames; ++at) {
        std::array<float, jack_count> jacks{};
        std::array<float, output_count> outputs{};
        for (std::size_t i = 0; i < jack_count; ++i) jacks[i] = in[i][at];
        play_frame(jacks, outputs);
        for (std::size_t i = 0; i < output_count; ++i) out[i][at] = outputs[i];
    }
    frames_ += frames;
    note_load(clock::now() - began, frames);
}

}  // namespace ferrule
