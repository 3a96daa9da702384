#pragma once

#include <atomic>
#include <memory>
#include <span>
#include <stop_token>
#include <string>
#include <utility>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/link/exchange_feeder.hpp"
#include "rig/link/interface.hpp"
#include "rig/link/rt_stream.hpp"
#include "rig/platform/last_act.hpp"

namespace cvrig {

/// The channels of a bench with an audio interface, with their limits: its outputs and inputs in
/// their order, and last the loop-back if there is one.
[[nodiscard]] volts_layout volts_layout_of(const bench& b);

/// The audio interface of a bench, by RtAudio: one full-duplex stream that stays open for the whole
/// run, since its latency differs from one start to the next. Only where ALSA stood still for
/// longer than its buffers, and a loop-back tells the new latency, the next exchange opens it anew.
///
/// Outputs return to 0 V in 10 ms at the end of every exchange that hold() did not say otherwise
/// for, at a stop, when this object goes, and before an uncaught exception ends the program. After
/// SIGKILL nothing can run: the server or driver drops the stream, and outputs stop at once at
/// whatever the interface makes of no data.
class rt_audio_interface : public audio_interface {
public:
    /// Opens the device and lets the stream run, with all outputs at 0 V. Takes at most some 10 s.
    ///
    /// Refuses: throws user_error with the place in the bench file: no such device or several,
    ///          too few channels, another rate, busy, no answer.
    explicit rt_audio_interface(const bench& b);
    ~rt_audio_interface() override;

    /// As in audio_interface. A server or device that is gone ends it within 2 s with the event
    /// `vanished`; the next call tries for 5 s to open the device again.
    volts_in exchange(const volts_out& out, seconds tail, std::stop_token stop) override;

    void hold(std::span<const volts> outputs) override;

    /// From now on every exchange() is told to the tap while it plays.
    void listen(exchange_tap tap) { tap_ = std::move(tap); }

    /// As exchange(), for what is too long for memory. `source` and `sink` run on this thread; a
    /// block has one channel for each output (input) of the bench, and then one for the loop-back
    /// if there is one.
    stream_report run_stream(const volts_source& source, const volts_sink& sink,
                             exchange_length length, const std::stop_token& stop);

    [[nodiscard]] sample_rate rate() const override { return layout_.rate; }
    [[nodiscard]] std::string description() const override;
    [[nodiscard]] const volts_layout& in_volts() const noexcept { return volts_; }

private:
    bool is_open(const std::stop_token& stop);
    void open();
    void close();
    void lose_stream();
    [[nodiscard]] bool is_out_of_step(const stream_report& report) const;
    void settle();
    void add_rate_event(stream_report& report) const;
    void tell_tap(const volts_block& sent, std::size_t first, const volts_block& from) const;

    audio_link_settings settings_;
    bool has_loop_;
    double rate_limit_ppm_;
    volts_layout volts_;
    stream_layout layout_;
    std::vector<float> held_;
    exchange_tap tap_;
    std::shared_ptr<rt_stream> stream_;
    std::atomic<sample_exchange*> running_{nullptr};
    std::atomic<int> buffer_ms_{0};  ///< what is handed over takes so long to be heard
    last_act ramp_down_;
};

}  // namespace cvrig
