#include "rig/link/play_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>

#include "rig/expectations/user_error.hpp"
#include "rig/link/loop_watch.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/link/take_faults.hpp"
#include "rig/stimulus/wave_stream.hpp"

namespace cvrig {

namespace {

constexpr std::size_t block_frames = 65536;
constexpr seconds tail_time{1.0};
constexpr std::size_t most_sentences = 20;

void require_form(const bench& b, const wave_source& source,
                  const std::filesystem::path& stimulus) {
    if (source.channels() != b.outputs.size())
        throw user_error{fmt::format(
            "cannot play '{}': it has {} channels, and the bench has {} outputs; write one channel "
            "for each, in the order of the bench file",
            stimulus.string(), source.channels(), b.outputs.size())};
    if (source.rate() != b.rate())
        throw user_error{
            fmt::format("cannot play '{}': it has {:g} samples per second, and the "
                        "bench runs at {:g}",
                        stimulus.string(), source.rate().value(), b.rate().value())};
}

/// Writes what was heard from the first sample on, as soon as it is known where that is.
class aligned_writer {
public:
    aligned_writer(wave_sink& to, std::size_t frames) : to_{to}, left_{frames} {}

    void begin_at(std::size_t latency) {
        if (skip_) return;
        skip_ = latency;
        write(waiting_);
        waiting_.clear();
    }
    [[nodiscard]] bool has_begun() const noexcept { return skip_.has_value(); }

    void hear(const volts_block& from) {
        if (skip_) {
            write(from);
            return;
        }
        waiting_.resize(from.size());
        for (std::size_t c = 0; c < from.size(); ++c)
            waiting_[c].insert(waiting_[c].end(), from[c].begin(), from[c].end());
    }

    [[nodiscard]] std::size_t left() const noexcept { return left_; }

private:
    void write(const volts_block& from) {
        const std::size_t there = from.empty() ? 0 : from.front().size();
        const std::size_t first = std::min(*skip_, there);
        *skip_ -= first;
        const std::size_t frames = std::min(left_, there - first);
        to_.write(from, first, first + frames);
        left_ -= frames;
    }

    wave_sink& to_;
    std::optional<std::size_t> skip_;
    std::size_t left_;
    volts_block waiting_;
};

void append(std::vector<std::string>& to, const std::vector<std::string>& from) {
    const auto room = most_sentences - std::min(most_sentences, to.size());
    const auto shown = static_cast<std::ptrdiff_t>(std::min(room, from.size()));
    to.insert(to.end(), from.begin(), from.begin() + shown);
}

void add_events(const bench& b, const stream_report& report, std::size_t origin, played_file& out) {
    const auto said = judge_events(report.events, b.audio->simulated, b.rate(), origin);
    append(out.problems, said.problems);
    append(out.notes, said.notes);
    if (report.untold_events > 0)
        out.notes.push_back(fmt::format("There were {} more such events.", report.untold_events));
}

}  // namespace

void require_playable(const bench& b, const volts_layout& layout,
                      const std::filesystem::path& stimulus) {
    wave_source source{stimulus};
    require_form(b, source, stimulus);
    volts_block block(source.channels());
    for (std::size_t first = 0; first < source.frames(); first += block_frames) {
        for (auto& c : block) c.resize(std::min(block_frames, source.frames() - first));
        source.read(first, block);
        require_allowed(layout, block, first, source.rate());
    }
}

played_file play_file(rt_audio_interface& to, const bench& b, const std::filesystem::path& stimulus,
                      const std::filesystem::path& response, const std::stop_token& stop) {
    require_playable(b, to.in_volts(), stimulus);
    wave_source source{stimulus};
    wave_sink sink{response, source.rate(), b.inputs.size()};
    aligned_writer writer{sink, source.frames()};
    std::optional<loop_watch> loop;
    if (b.loop) loop.emplace(*b.loop, source.rate(), source.frames());
    const auto known = b.audio->round_trip.value_or(seconds{0.0});
    std::size_t origin = static_cast<std::size_t>(std::lround(known.value() * b.rate().value()));
    if (!loop) writer.begin_at(origin);

    const auto align = [&] {
        if (writer.has_begun() || !loop->has_begun()) return;
        if (loop->latency_samples())
            origin = static_cast<std::size_t>(std::max(0L, std::lround(*loop->latency_samples())));
        writer.begin_at(origin);
    };
    const volts_source feed_from = [&](std::size_t first, volts_block& block) {
        std::vector<float> sequence;
        if (loop) {
            sequence = std::move(block.back());
            block.pop_back();
        }
        source.read(first, block);
        if (!loop) return;
        loop->fill(first, sequence);
        block.push_back(std::move(sequence));
    };
    const volts_sink hear = [&](const volts_block& block) {
        if (!loop) {
            writer.hear(block);
            return;
        }
        const volts_block jacks{block.begin(), block.end() - 1};
        writer.hear(jacks);
        loop->hear(block.back());
        align();
    };
    const auto tail = static_cast<std::size_t>(std::lround(tail_time.value() * b.rate().value()));
    const auto report = to.run_stream(feed_from, hear, {source.frames(), tail}, stop);

    played_file out;
    out.stopped = report.stopped;
    out.length = seconds{static_cast<double>(source.frames()) / b.rate().value()};
    if (loop) {
        loop->finish();
        align();
        out.problems = loop->problems();
    } else if (!b.audio->round_trip) {
        out.notes.emplace_back("Without a loop-back or a round trip the response is not aligned.");
    }
    if (!writer.has_begun()) writer.begin_at(origin);
    add_events(b, report, origin, out);
    if (report.stopped) out.problems.emplace_back("It was stopped before its end.");
    if (writer.left() > 0 && out.problems.empty())
        out.problems.emplace_back("The record is too short.");
    sink.finish();
    return out;
}

}  // namespace cvrig
