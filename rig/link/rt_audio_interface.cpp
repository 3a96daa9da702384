#include "rig/link/rt_audio_interface.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cctype>
#include <chrono>
#include <cmath>
#include <thread>

#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

using namespace std::chrono_literals;

constexpr seconds open_patience{5.0};
constexpr seconds close_patience{1.0};
constexpr int longest_buffer_ms = 200;
constexpr auto reopen_time = 5s;
constexpr auto reopen_pause = 250ms;
constexpr double smallest_rate_limit_ppm = 50.0;

std::size_t device_channels(const std::vector<std::size_t>& used) {
    return used.empty() ? 0 : 1 + *std::max_element(used.begin(), used.end());
}

stream_layout stream_layout_of(const bench& b, const volts_layout& in_volts) {
    stream_layout out;
    out.rate = b.audio->rate;
    for (const auto& o : b.outputs) out.outputs.push_back(o.channel - 1);
    for (const auto& i : b.inputs) out.inputs.push_back(i.channel - 1);
    if (b.loop) {
        out.outputs.push_back(b.loop->output_channel - 1);
        out.inputs.push_back(b.loop->input_channel - 1);
    }
    for (const auto& o : in_volts.outputs)
        out.rest.push_back(static_cast<float>(o.trim.sample(volts{0.0})));
    out.device_outputs = device_channels(out.outputs);
    out.device_inputs = device_channels(out.inputs);
    out.blocks = std::max<std::size_t>(2, b.audio->blocks);
    return out;
}

/// Waits until `done` holds, at most 100 ms: ten times what a ramp takes.
template <class Done>
void wait_a_moment(const Done& done) {
    const auto until = std::chrono::steady_clock::now() + 100ms;
    while (!done() && std::chrono::steady_clock::now() < until) std::this_thread::sleep_for(1ms);
}

std::string upper(std::string text) {
    for (char& c : text) c = static_cast<char>(std::toupper(static_cast<unsigned char>(c)));
    return text;
}

}  // namespace

volts_layout volts_layout_of(const bench& b) {
    volts_layout out;
    for (const auto& o : b.outputs) out.outputs.push_back({o.trim, o.lowest, o.highest, o.jack});
    for (const auto& i : b.inputs) out.inputs.push_back(i.trim);
    if (b.loop) {
        // A polarity that the trim inverts would still be within the level.
        out.outputs.push_back({b.loop->output_trim, -b.loop->level, b.loop->level, "loop-back"});
        out.inputs.push_back(b.loop->input_trim);
    }
    return out;
}

rt_audio_interface::rt_audio_interface(const bench& b)
    : settings_{b.audio.value()},
      has_loop_{b.loop.has_value()},
      rate_limit_ppm_{std::max(smallest_rate_limit_ppm, 2.0 * b.u_clock_ppm)},
      volts_{volts_layout_of(b)},
      layout_{stream_layout_of(b, volts_)},
      held_{layout_.rest},
      ramp_down_{[this] {
          auto* running = running_.load();
          if (running == nullptr) return;
          running->stop();
          wait_a_moment([&] { return running->is_silent(); });
          std::this_thread::sleep_for(std::chrono::milliseconds{buffer_ms_});
      }} {
    open();
}

rt_audio_interface::~rt_audio_interface() {
    close();
}

void rt_audio_interface::close() {
    running_ = nullptr;
    if (stream_ == nullptr) return;
    stream_->exchange().stop();
    wait_a_moment([&] { return stream_->exchange().is_silent(); });
    // What was handed over last must still leave the driver's buffer.
    std::this_thread::sleep_for(std::chrono::milliseconds{buffer_ms_});
    close_stream(std::move(stream_), close_patience);
    stream_.reset();
}

void rt_audio_interface::open() {
    stream_ = open_stream(settings_, layout_, open_patience);
    const auto buffered = static_cast<double>(layout_.blocks * stream_->block_frames());
    buffer_ms_ = std::min(longest_buffer_ms,
                          static_cast<int>(std::ceil(1000.0 * buffered / layout_.rate.value())));
    running_ = &stream_->exchange();
    stream_->exchange().hold(held_);
    settle();
}

void rt_audio_interface::lose_stream() {
    running_ = nullptr;
    if (stream_ != nullptr) close_stream(std::move(stream_), seconds{0.0});
    stream_.reset();
}

/// RtAudio lets ALSA's buffers run on when they are late, and does not align them again: after a
/// stall that is longer than they are, output can stay late by a part of a block for good, so that
/// old and new samples mix in every take to come. Only opening the stream anew mends that; its
/// latency is another one then, which only the loop-back tells.
bool rt_audio_interface::is_out_of_step(const stream_report& report) const {
    return has_loop_ && stream_->device().api == "alsa" &&
           std::ranges::any_of(report.events, [](const stream_event& e) {
               return e.what == stream_event::kind::gap;
           });
}

bool rt_audio_interface::is_open(const std::stop_token& stop) {
    const auto until = std::chrono::steady_clock::now() + reopen_time;
    while (stream_ == nullptr && !stop.stop_requested()) {
        try {
            open();
        } catch (const user_error&) {
            if (std::chrono::steady_clock::now() >= until) return false;
            std::this_thread::sleep_for(reopen_pause);
        }
    }
    return stream_ != nullptr;
}

void rt_audio_interface::settle() {
    wait_a_moment([&] { return stream_->exchange().is_settled(); });
}

void rt_audio_interface::add_rate_event(stream_report& report) const {
    const double asked = layout_.rate.value();
    const double off = std::abs(report.frames_per_second - asked);
    if (settings_.simulated || report.frames_per_second == 0.0) return;
    if (off > asked * rate_limit_ppm_ * 1e-6 + 2.0 * report.u_frames_per_second)
        report.events.push_back({stream_event::kind::rate_changed, 0, report.frames_per_second});
}

stream_report rt_audio_interface::run_stream(const volts_source& source, const volts_sink& sink,
                                             exchange_length length, const std::stop_token& stop) {
    stream_report report;
    if (!is_open(stop)) {
        report.stopped = stop.stop_requested();
        if (!report.stopped) report.events.push_back({stream_event::kind::vanished, 0, 0.0});
        return report;
    }
    const auto job = make_job(layout_, length);
    stream_->keep(job);
    report = feed(stream_->exchange(), job, volts_, source, sink, stop);
    const bool vanished = std::ranges::any_of(report.events, [](const stream_event& e) {
        return e.what == stream_event::kind::vanished;
    });
    if (vanished) {
        lose_stream();
    } else if (report.stopped) {
        held_ = layout_.rest;
        stream_->exchange().hold(held_);
        settle();
    } else if (is_out_of_step(report)) {
        close();
    }
    if (!report.stopped) add_rate_event(report);
    return report;
}

void rt_audio_interface::tell_tap(const volts_block& sent, std::size_t first,
                                  const volts_block& from) const {
    const std::size_t whole = sent.empty() ? 0 : sent.front().size();
    const std::size_t frames = std::min(from.front().size(), whole - std::min(first, whole));
    if (frames == 0) return;
    const std::size_t loops = has_loop_ ? 1 : 0;
    tapped_block block;
    for (std::size_t c = 0; c + loops < sent.size(); ++c)
        block.sent.push_back(std::span{sent[c]}.subspan(first, frames));
    for (std::size_t c = 0; c + loops < from.size(); ++c)
        block.heard.push_back(std::span{from[c]}.first(frames));
    tap_(block);
}

volts_in rt_audio_interface::exchange(const volts_out& out, seconds tail, std::stop_token stop) {
    const std::size_t frames = out.size();
    volts_block all = out.outputs;
    if (has_loop_) all.push_back(out.loop);
    for (auto& channel : all)
        if (channel.empty()) channel.resize(frames);
    require_allowed(volts_, all, 0, layout_.rate);

    const volts_source source = [&](std::size_t first, volts_block& to) {
        for (std::size_t c = 0; c < to.size(); ++c)
            std::copy_n(all[c].begin() + static_cast<std::ptrdiff_t>(first), to[c].size(),
                        to[c].begin());
    };
    volts_block heard(layout_.inputs.size());
    const volts_sink sink = [&](const volts_block& from) {
        if (tap_ && !from.empty()) tell_tap(all, heard.front().size(), from);
        for (std::size_t c = 0; c < from.size(); ++c)
            heard[c].insert(heard[c].end(), from[c].begin(), from[c].end());
    };
    const auto tail_frames = static_cast<std::size_t>(std::lround(tail.value() * rate().value()));
    for (auto& channel : heard) channel.reserve(frames + tail_frames);
    const auto report = run_stream(source, sink, {frames, tail_frames}, stop);

    volts_in in;
    in.events = report.events;
    in.frames_per_second = report.frames_per_second;
    in.u_frames_per_second = report.u_frames_per_second;
    in.stopped = report.stopped;
    if (has_loop_) {
        in.loop = std::move(heard.back());
        heard.pop_back();
    }
    in.inputs = std::move(heard);
    return in;
}

void rt_audio_interface::hold(std::span<const volts> outputs) {
    volts_block one(outputs.size());
    for (std::size_t c = 0; c < outputs.size(); ++c)
        one[c] = {static_cast<float>(outputs[c].value())};
    require_allowed(volts_, one, 0, layout_.rate);
    for (std::size_t c = 0; c < outputs.size(); ++c)
        held_[c] = static_cast<float>(volts_.outputs[c].trim.sample(outputs[c]));
    if (stream_ == nullptr) return;  // held as soon as it is open again
    stream_->exchange().hold(held_);
    settle();
}

std::string rt_audio_interface::description() const {
    const auto khz = fmt::format("{:g} kHz", layout_.rate.value() / 1000.0);
    if (stream_ == nullptr) return fmt::format("{} (gone), {}", settings_.device, khz);
    const auto& d = stream_->device();
    return fmt::format("{} ({}), {} out, {} in, {}, blocks of {}", d.name, upper(d.api), d.outputs,
                       d.inputs, khz, stream_->block_frames());
}

}  // namespace cvrig
