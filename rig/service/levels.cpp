#include "rig/service/levels.hpp"

#include <algorithm>
#include <cassert>
#include <cmath>
#include <utility>

namespace cvrig::service {

namespace {

constexpr std::size_t pieces_shown = 120;
constexpr seconds rolling_span{3.0};
constexpr seconds level_span{0.3};

void outline(channel_look& to, std::span<const float> volts) {
    if (volts.empty()) return;
    double square_sum = 0.0;
    for (const float v : volts) {
        to.peak_v = std::max(to.peak_v, std::abs(static_cast<double>(v)));
        square_sum += static_cast<double>(v) * static_cast<double>(v);
    }
    to.rms_v = std::sqrt(square_sum / static_cast<double>(volts.size()));
    const std::size_t pieces = std::min(pieces_shown, volts.size());
    for (std::size_t i = 0; i < pieces; ++i) {
        const auto begin = i * volts.size() / pieces;
        const auto end = (i + 1) * volts.size() / pieces;
        const auto [low, high] = std::ranges::minmax(volts.subspan(begin, end - begin));
        to.low.push_back(low);
        to.high.push_back(high);
    }
}

/// The course of one jack; empty if the take has none of that name.
std::span<const float> course_of(const std::string& jack, const std::vector<std::string>& jacks,
                                 const std::vector<std::vector<float>>& courses) {
    const auto at = std::ranges::find(jacks, jack);
    const auto i = static_cast<std::size_t>(at - jacks.begin());
    return i < courses.size() ? std::span<const float>{courses[i]} : std::span<const float>{};
}

}  // namespace

std::vector<channel_look> channels_of(const bench& b) {
    std::vector<channel_look> out;
    for (const auto& o : b.outputs) {
        channel_look c;
        c.jack = o.jack;
        c.goes = way::out;
        c.full_v = std::max(std::abs(o.lowest.value()), std::abs(o.highest.value()));
        out.push_back(c);
    }
    for (const auto& i : b.inputs) {
        channel_look c;
        c.jack = i.jack;
        c.full_v = std::abs(i.trim.volts_per_full_scale);
        out.push_back(c);
    }
    return out;
}

levels levels_of(const take& t, std::vector<channel_look> like) {
    levels out;
    out.span = seconds{static_cast<double>(t.sent.size()) / t.sent.rate.value()};
    for (auto& c : like) {
        const auto course = c.goes == way::out ? course_of(c.jack, t.sent.jacks, t.sent.volts)
                                               : course_of(c.jack, t.heard_jacks, t.heard);
        if (course.empty()) continue;
        outline(c, course);
        out.channels.push_back(std::move(c));
    }
    return out;
}

rolling_levels::rolling_levels(std::vector<channel_look> channels, sample_rate rate)
    : channels_{std::move(channels)},
      piece_frames_{
          std::max<std::size_t>(1, static_cast<std::size_t>(rolling_span.value() * rate.value() /
                                                            static_cast<double>(pieces_shown)))},
      growing_(channels_.size()),
      pieces_(channels_.size()),
      piece_length_{static_cast<double>(piece_frames_) / rate.value()} {}

void rolling_levels::grow(std::size_t channel, std::span<const float> part) {
    auto& p = growing_[channel];
    const auto [low, high] = std::ranges::minmax(part);
    p.low = filled_ == 0 ? low : std::min(p.low, low);
    p.high = filled_ == 0 ? high : std::max(p.high, high);
    for (const float v : part) p.square_sum += static_cast<double>(v) * static_cast<double>(v);
}

void rolling_levels::add(const channel_spans& sent, const channel_spans& heard) {
    assert(sent.size() + heard.size() == channels_.size());
    const std::size_t frames = sent.empty() ? 0 : sent.front().size();
    for (std::size_t done = 0; done < frames;) {
        const auto now = std::min(frames - done, piece_frames_ - filled_);
        for (std::size_t c = 0; c < growing_.size(); ++c) {
            const auto& whole = c < sent.size() ? sent[c] : heard[c - sent.size()];
            grow(c, whole.subspan(done, now));
        }
        done += now;
        filled_ += now;
        if (filled_ == piece_frames_) finish_piece();
    }
}

void rolling_levels::finish_piece() {
    for (std::size_t c = 0; c < growing_.size(); ++c) {
        auto& all = pieces_[c];
        if (all.size() == pieces_shown) all.erase(all.begin());
        all.push_back(std::exchange(growing_[c], {}));
    }
    filled_ = 0;
}

levels rolling_levels::look() const {
    levels out;
    const auto latest = static_cast<std::size_t>(
        std::max(1.0, std::round(level_span.value() / piece_length_.value())));
    for (std::size_t c = 0; c < channels_.size(); ++c) {
        auto look = channels_[c];
        const auto& all = pieces_[c];
        for (const auto& p : all) {
            look.low.push_back(p.low);
            look.high.push_back(p.high);
        }
        const auto counted = std::min(latest, all.size());
        double square_sum = 0.0;
        for (const auto& p : std::span{all}.last(counted)) {
            look.peak_v = std::max({look.peak_v, std::abs(static_cast<double>(p.low)),
                                    std::abs(static_cast<double>(p.high))});
            square_sum += p.square_sum;
        }
        if (counted > 0)
            look.rms_v = std::sqrt(square_sum / static_cast<double>(counted * piece_frames_));
        out.span = seconds{piece_length_.value() * static_cast<double>(all.size())};
        out.channels.push_back(std::move(look));
    }
    return out;
}

}  // namespace cvrig::service
