#pragma once

#include <cstddef>
#include <functional>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"

namespace cvrig {

/// What goes out, in volts: one channel for each output of the bench in its order, and perhaps one
/// for the loop-back cable. All of one length; an empty channel means 0 V throughout.
struct volts_out {
    std::vector<std::vector<float>> outputs;
    std::vector<float> loop;

    [[nodiscard]] std::size_t size() const noexcept;
};

/// Something that a stream reported or that its clock showed, with its place.
struct stream_event {
#pragma GCC diagnostic push
#pragma GCC diagnostic ignored "-Wshadow"  // g++ 12 takes scoped enumerators for variables
    enum class kind {
        underrun,  ///< the driver says that output was late
        overrun,   ///< the driver says that input was lost
        gap,       ///< the callback came much too late, whatever the driver says
        starved,   ///< this computer did not feed or empty the stream's buffers in time
        rate_changed,
        vanished  ///< no callback any more: server gone, device unplugged
    };
#pragma GCC diagnostic pop
    kind what{kind::gap};
    std::size_t frame{0};  ///< of the exchange
    double size{0.0};      ///< seconds of a gap, hertz of a rate; otherwise 0
};

/// What came back, in volts: one channel for each input of the bench in its order, and the
/// loop-back channel if there is one. Frame 0 was recorded with frame 0 of what went out; the
/// record is longer than what went out by `tail`.
struct volts_in {
    std::vector<std::vector<float>> inputs;
    std::vector<float> loop;
    std::vector<stream_event> events;
    double frames_per_second{0.0};  ///< by the computer's clock, over the whole exchange
    double u_frames_per_second{0.0};
    bool stopped{false};  ///< by the stop token; the record is then short

    [[nodiscard]] std::size_t size() const noexcept;
};

/// An audio interface seen in volts: trims and limits are applied inside, and nowhere else.
///
/// The stream runs from construction to destruction; between exchanges, outputs hold what hold()
/// said, which is 0 V at first. Every change of level outside an exchange is a ramp of 10 ms, and
/// the end of the stream, however it comes, ramps to 0 V.
class audio_interface {
public:
    audio_interface() = default;
    audio_interface(const audio_interface&) = delete;
    audio_interface& operator=(const audio_interface&) = delete;
    virtual ~audio_interface() = default;

    /// Plays and records. Blocks for as long as that takes; never longer than that plus 2 s.
    ///
    /// Refuses: throws user_error for a voltage outside its output's limits, before it sounds.
    virtual volts_in exchange(const volts_out& out, seconds tail, std::stop_token stop) = 0;

    /// Holds voltages at the outputs (bench order) until told otherwise.
    virtual void hold(std::span<const volts> outputs) = 0;

    [[nodiscard]] virtual sample_rate rate() const = 0;
    /// "desk (JACK), 8 out, 8 in, 48 kHz, blocks of 256".
    [[nodiscard]] virtual std::string description() const = 0;
};

}  // namespace cvrig
