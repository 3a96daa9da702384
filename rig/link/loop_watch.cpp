#include "rig/link/loop_watch.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "analysis/loop_sequence.hpp"
#include "rig/link/take_faults.hpp"

namespace cvrig {

namespace {

constexpr seconds piece_time{10.0};
constexpr seconds tail_time{0.5};
constexpr std::size_t most_problems = 100;
/// Far above what noise does to a latency, far below a lost sample.
constexpr double largest_shift_samples = 0.3;

std::size_t frames_in(seconds t, sample_rate rate) {
    return static_cast<std::size_t>(std::lround(t.value() * rate.value()));
}

}  // namespace

loop_watch::loop_watch(const loop_back& loop, sample_rate rate, std::size_t frames_to_send)
    : level_volts_{loop.level.value()},
      rate_{rate},
      frames_{frames_to_send},
      piece_{frames_in(piece_time, rate)},
      tail_{frames_in(tail_time, rate)} {}

void loop_watch::fill(std::size_t first, std::vector<float>& to) const {
    to = analysis::loop_sequence(to.size(), first);
    for (float& v : to) v *= static_cast<float>(level_volts_);
}

void loop_watch::hear(const std::vector<float>& from) {
    heard_.insert(heard_.end(), from.begin(), from.end());
    while (heard_.size() >= piece_ + tail_ && first_ + piece_ < frames_) judge(piece_);
}

void loop_watch::finish() {
    if (heard_.size() > tail_ && first_ < frames_)
        judge(std::min(frames_ - first_, heard_.size() - tail_));
}

void loop_watch::complain(std::string sentence) {
    if (problems_.size() < most_problems) problems_.push_back(std::move(sentence));
}

void loop_watch::judge(std::size_t frames) {
    const std::span heard{heard_.data(), std::min(heard_.size(), frames + tail_)};
    const auto read = analysis::read_loop(heard, level_volts_, frames, first_);
    const double begin = static_cast<double>(first_) / rate_.value();
    if (!read) {
        complain(fmt::format("What the loop-back brought after {:.1f} s is not what was sent: {}.",
                             begin, analysis::explain(read.error())));
    } else {
        for (auto b : read->breaks) {
            b.at_sample += first_;
            const double latency = std::max(0.0, read->latency_samples);
            complain(in_words(b, rate_, static_cast<std::size_t>(std::lround(latency))));
        }
        if (!latency_) latency_ = read->latency_samples;
        const double shift = read->latency_samples - *latency_;
        if (std::abs(shift) > largest_shift_samples + 2.0 * read->u_latency_samples &&
            read->breaks.empty())
            complain(fmt::format(
                "The latency at {:.1f} s is {:+.2f} samples off that at the start.", begin, shift));
    }
    heard_.erase(heard_.begin(), heard_.begin() + static_cast<std::ptrdiff_t>(frames));
    first_ += frames;
    ++pieces_;
}

}  // namespace cvrig
