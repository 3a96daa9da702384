#pragma once

#include <functional>
#include <memory>
#include <span>
#include <stop_token>
#include <vector>

#include "rig/link/exchange_job.hpp"
#include "rig/link/interface.hpp"
#include "rig/link/sample_exchange.hpp"

namespace cvrig {

/// A piece of several channels of one length, in volts.
using volts_block = std::vector<std::vector<float>>;

/// Fills a block from frame `first` of what is to be played; the channels have their length.
using volts_source = std::function<void(std::size_t first, volts_block& to)>;
/// Takes the next block of what came back.
using volts_sink = std::function<void(const volts_block& from)>;

/// One piece of each of several channels.
using channel_spans = std::vector<std::span<const float>>;

/// A piece of what came back, beside what went out in the same frames: outputs and inputs of the
/// bench in their order, without the loop-back. The frames after the end of what goes out are not
/// told.
struct tapped_block {
    channel_spans sent, heard;
};
/// Listens to an exchange while it plays, on the feeding side's thread, never on the realtime one.
using exchange_tap = std::function<void(const tapped_block&)>;

/// What a long play-and-record told, beside what went to the sink.
struct stream_report {
    std::size_t recorded{0};  ///< frames that went to the sink
    std::vector<stream_event> events;
    std::size_t untold_events{0};
    double frames_per_second{0.0};
    double u_frames_per_second{0.0};
    bool stopped{false};
};

/// The lines between volts and samples of what is played and what is recorded, in order, and what
/// each output may get.
struct volts_layout {
    struct output {
        channel_trim trim;
        volts lowest, highest;
        std::string name;  ///< of the jack, for messages
    };
    std::vector<output> outputs;
    std::vector<channel_trim> inputs;
};

/// How much is played, and how much is recorded after that, in frames.
struct exchange_length {
    std::size_t frames{0};
    std::size_t tail{0};
};

/// Refuses with user_error any volt that is outside its output's limits or that its channel cannot
/// give. `first` is the block's place in the whole.
void require_allowed(const volts_layout& layout, const volts_block& block, std::size_t first,
                     sample_rate rate);

/// A job for an exchange: its rings hold all of it if that is at most some 100 MB, else four
/// seconds.
[[nodiscard]] std::shared_ptr<exchange_job> make_job(const stream_layout& layout,
                                                     exchange_length length);

/// The feeding side of an exchange: hands `source` on to the realtime half and what comes back to
/// `sink`, in constant memory, until all is done, the stop token says so, or no callback came for
/// 1 s. Whatever makes it end early, the outputs ramp to 0 V.
///
/// Refuses: throws what `source` and `sink` throw, and what require_allowed() refuses.
[[nodiscard]] stream_report feed(sample_exchange& to, const std::shared_ptr<exchange_job>& job,
                                 const volts_layout& layout, const volts_source& source,
                                 const volts_sink& sink, const std::stop_token& stop);

}  // namespace cvrig
