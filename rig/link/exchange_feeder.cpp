#include "rig/link/exchange_feeder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <cmath>
#include <thread>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using namespace std::chrono_literals;

constexpr auto longest_silence = 1s;  ///< without a callback; then the stream has vanished
constexpr auto time_between_looks = 2ms;
constexpr std::size_t block_frames = 8192;
constexpr std::size_t most_ring_samples = std::size_t{25} * 1000 * 1000;
constexpr seconds ring_time{4.0};

volts_block make_block(std::size_t channels, std::size_t frames) {
    return volts_block(channels, std::vector<float>(frames));
}

void resize(volts_block& block, std::size_t frames) {
    for (auto& channel : block) channel.resize(frames);
}

/// What rounding a limit to float leaves, and one more.
constexpr double rounding_volts = 2e-6;

void require_allowed(const volts_layout::output& o, float v, seconds at) {
    const volts asked{v};
    const volts rounding{rounding_volts};
    const bool is_in = asked >= o.lowest - rounding && asked <= o.highest + rounding;
    if (is_in && std::abs(o.trim.sample(asked)) <= 1.0 + rounding_volts) return;
    throw user_error{fmt::format(
        "Jack {} would get {} at {:.3f} s, but its output is limited to {} to {}; nothing was "
        "played.",
        cvrig::quoted(o.name), show(asked.value(), dimension::volts, 6), at.value(),
        show(o.lowest.value(), dimension::volts, 6), show(o.highest.value(), dimension::volts, 6))};
}

/// One exchange in the making.
class feeding {
public:
    feeding(sample_exchange& to, exchange_job& job, const volts_layout& layout,
            const volts_source& source, const volts_sink& sink)
        : to_{to},
          job_{job},
          layout_{layout},
          source_{source},
          sink_{sink},
          out_{make_block(layout.outputs.size(), block_frames)},
          in_{make_block(layout.inputs.size(), block_frames)} {}

    /// True if anything was moved.
    bool fill() {
        const auto frames = std::min({block_frames, job_.frames - fed_, job_.play.space()});
        if (frames == 0) return false;
        resize(out_, frames);
        source_(fed_, out_);
        require_allowed(layout_, out_, fed_, to_.layout().rate);
        job_.play.write(frames, [&](std::size_t c, std::size_t i) {
            return static_cast<float>(layout_.outputs[c].trim.sample(volts{out_[c][i]}));
        });
        fed_ += frames;
        return true;
    }

    bool drain() {
        const auto frames = std::min(block_frames, job_.record.filled());
        if (frames == 0) return false;
        resize(in_, frames);
        job_.record.read(frames, [&](std::size_t c, std::size_t i, float sample) {
            in_[c][i] = static_cast<float>(layout_.inputs[c].at(sample).value());
        });
        sink_(in_);
        drained_ += frames;
        return true;
    }

    [[nodiscard]] std::size_t drained() const noexcept { return drained_; }

private:
    sample_exchange& to_;
    exchange_job& job_;
    const volts_layout& layout_;
    const volts_source& source_;
    const volts_sink& sink_;
    volts_block out_, in_;
    std::size_t fed_{0}, drained_{0};
};

/// Tells when no callback comes any more.
class watchdog {
public:
    explicit watchdog(const sample_exchange& watched) : watched_{watched} {}

    bool sees_life() {
        const auto now = std::chrono::steady_clock::now();
        const auto count = watched_.callbacks();
        if (count != last_) {
            last_ = count;
            since_ = now;
        }
        return now - since_ < longest_silence;
    }

private:
    const sample_exchange& watched_;
    std::uint64_t last_{0};
    steady_time since_{std::chrono::steady_clock::now()};
};

/// Cancels a job that has been started if the feeding side leaves early, by an exception too, and
/// waits a moment until the realtime side has let go of it.
class cancel_at_exit {
public:
    explicit cancel_at_exit(exchange_job& job) : job_{job} {}
    ~cancel_at_exit() {
        job_.cancelled = true;
        const auto until = std::chrono::steady_clock::now() + 200ms;
        while (!job_.finished && std::chrono::steady_clock::now() < until)
            std::this_thread::sleep_for(1ms);
    }
    cancel_at_exit(const cancel_at_exit&) = delete;
    cancel_at_exit& operator=(const cancel_at_exit&) = delete;

private:
    exchange_job& job_;
};

void report_events(const exchange_job& job, stream_report& out) {
    const auto count = job.event_count.load(std::memory_order_acquire);
    out.events.assign(job.events.begin(), job.events.begin() + static_cast<std::ptrdiff_t>(count));
    out.untold_events = job.untold_events.load();
}

}  // namespace

void require_allowed(const volts_layout& layout, const volts_block& block, std::size_t first,
                     sample_rate rate) {
    for (std::size_t c = 0; c < block.size(); ++c) {
        for (std::size_t i = 0; i < block[c].size(); ++i) {
            const double at = static_cast<double>(first + i) / rate.value();
            require_allowed(layout.outputs[c], block[c][i], seconds{at});
        }
    }
}

std::shared_ptr<exchange_job> make_job(const stream_layout& layout, exchange_length length) {
    const std::size_t outputs = layout.outputs.size();
    const std::size_t inputs = layout.inputs.size();
    const std::size_t all = length.frames + length.tail;
    const auto ring = static_cast<std::size_t>(ring_time.value() * layout.rate.value());
    const bool fits = all * std::max<std::size_t>(1, outputs + inputs) <= most_ring_samples;
    const std::size_t frames = std::max<std::size_t>(1, fits ? all : ring);
    return std::make_shared<exchange_job>(exchange_job::size{outputs, inputs, frames, frames},
                                          length.frames, length.tail);
}

stream_report feed(sample_exchange& to, const std::shared_ptr<exchange_job>& job,
                   const volts_layout& layout, const volts_source& source, const volts_sink& sink,
                   const std::stop_token& stop) {
    stream_report out;
    feeding f{to, *job, layout, source, sink};
    while (f.fill()) {
    }
    to.start(*job);
    const cancel_at_exit leaving{*job};
    watchdog dog{to};
    while (!job->finished.load(std::memory_order_acquire)) {
        out.stopped = stop.stop_requested();
        if (out.stopped) job->cancelled = true;
        if (!dog.sees_life()) {
            report_events(*job, out);
            out.events.push_back({stream_event::kind::vanished, f.drained(), 0.0});
            return out;
        }
        const bool filled = f.fill();
        if (!f.drain() && !filled) std::this_thread::sleep_for(time_between_looks);
    }
    while (f.drain()) {
    }
    report_events(*job, out);
    out.recorded = f.drained();
    out.frames_per_second = job->rate.frames_per_second();
    out.u_frames_per_second = job->rate.u_frames_per_second();
    return out;
}

}  // namespace cvrig
