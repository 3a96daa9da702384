#include "rig/run/patch_listening.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/level.hpp"
#include "analysis/loop_sequence.hpp"
#include "analysis/periodicity.hpp"
#include "analysis/samples.hpp"
#include "rig/link/take_faults.hpp"

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr int most_plays = 3;
/// Nothing quieter than that is a module's sound.
constexpr double audible_v = 0.003;
constexpr double over_silence = 8.0;
/// Crosstalk inside an interface lies well below.
constexpr double share_of_loudest = 0.01;
constexpr double floor_db = -160.0;
/// Repetition of a note that has arrived at its pitch.
constexpr double arrived = 0.95;

double decibels_of(double rms_v) {
    return rms_v > 1e-8 ? 20.0 * std::log10(rms_v) : floor_db;
}

std::vector<double> as_doubles(std::span<const float> x) {
    return {x.begin(), x.end()};
}

std::vector<double> differences(std::span<const double> x) {
    std::vector<double> out;
    for (std::size_t i = 1; i < x.size(); ++i) out.push_back(x[i] - x[i - 1]);
    return out;
}

double rms_of(std::span<const double> x) {
    const auto level = analysis::measure_level(x);
    return level ? level->ac_rms.value() : 0.0;
}

double loudest(std::span<const double> x, std::size_t window) {
    double most = 0.0;
    for (std::size_t i = 0; i + window <= x.size(); i += window)
        most = std::max(most, rms_of(x.subspan(i, window)));
    return most;
}

std::span<const double> whole_periods(std::span<const double> x, sample_rate rate, hertz pitch) {
    const double period = rate.value() / pitch.value();
    const double count = std::floor(static_cast<double>(x.size()) / period);
    return x.first(std::min(x.size(), static_cast<std::size_t>(std::lround(count * period))));
}

std::size_t length_of(const std::vector<std::vector<float>>& channels) {
    std::size_t longest = 0;
    for (const auto& c : channels) longest = std::max(longest, c.size());
    return longest;
}

bool is_fatal(const stream_event& e) {
    return e.what == stream_event::kind::starved || e.what == stream_event::kind::vanished;
}

// The time of a simulated interface is its own.
bool counts(const stream_event& e, const bench& b) {
    return !b.audio || !b.audio->simulated || is_fatal(e);
}

void add_loop(volts_out& out, const bench& b) {
    if (!b.loop) return;
    out.loop = analysis::loop_sequence(length_of(out.outputs));
    for (float& v : out.loop) v *= static_cast<float>(b.loop->level.value());
}

// Why a record cannot be used, in one sentence; empty if it can. That the loop-back cable is there
// at all is proven elsewhere.
std::string fault_of(const volts_in& heard, std::size_t sent, const bench& b, sample_rate rate) {
    for (const auto& e : heard.events)
        if (counts(e, b)) return cvrig::in_words(e, rate, 0);
    if (length_of(heard.inputs) < sent) return "The record is too short.";
    if (!b.loop) return {};
    const auto loop = analysis::read_loop(heard.loop, b.loop->level.value(), sent);
    if (!loop || loop->breaks.empty()) return {};
    return cvrig::in_words(loop->breaks.front(), rate, 0);
}

}  // namespace

std::optional<volts_in> player::play(score_writer score) {
    auto out = std::move(score).take();
    add_loop(out, bench_);
    const auto sent = length_of(out.outputs);
    for (int i = 0; i < most_plays; ++i) {
        auto heard = desk_.exchange(out, tail_, stop_);
        played_ += seconds{static_cast<double>(sent) / desk_.rate().value()} + tail_;
        if (heard.stopped || stop_.stop_requested()) {
            problem_ = "The check was stopped.";
            return std::nullopt;
        }
        problem_ = fault_of(heard, sent, bench_, desk_.rate());
        if (problem_.empty()) return heard;
    }
    return std::nullopt;
}

loudness compare_inputs(const volts_in& heard, std::size_t opening) {
    loudness out;
    for (const auto& channel : heard.inputs) {
        const auto x = as_doubles(channel);
        const auto quiet = std::span{x}.first(std::min(opening, x.size()));
        out.loudest_v.push_back(loudest(x, std::max<std::size_t>(opening / 3, 16)));
        out.silence_v.push_back(rms_of(quiet));
        if (out.loudest_v.back() > out.loudest_v[out.best]) out.best = out.loudest_v.size() - 1;
    }
    for (std::size_t i = 0; i < out.loudest_v.size(); ++i)
        out.sounds.push_back(out.loudest_v[i] > audible_v &&
                             out.loudest_v[i] > over_silence * out.silence_v[i] &&
                             out.loudest_v[i] > share_of_loudest * out.loudest_v[out.best]);
    return out;
}

ear::ear(const volts_in& heard, std::size_t input, sample_rate rate, double delay_samples)
    : volts_{as_doubles(heard.inputs[input])}, rate_{rate}, delay_samples_{delay_samples} {}

std::span<const double> ear::at(held_part p, seconds skip, seconds length) const {
    const auto place = skip.value() < 0.0 ? p.end : p.begin;
    const double first = static_cast<double>(place) + delay_samples_ + skip.value() * rate_.value();
    const auto size = static_cast<double>(volts_.size());
    const double begin = std::clamp(first, 0.0, size);
    const double end = std::clamp(first + length.value() * rate_.value(), begin, size);
    return std::span{volts_}.subspan(static_cast<std::size_t>(begin),
                                     static_cast<std::size_t>(end - begin));
}

note_sound ear::note(held_part p, seconds skip, seconds length) const {
    const auto whole = at(p, skip, length);
    note_sound out;
    auto x = whole;
    if (const auto period = analysis::measure_period(whole, rate_)) {
        out.pitch = period->pitch;
        x = whole_periods(whole, rate_, period->pitch);
    }
    out.level_db = decibels_of(rms_of(x));
    out.brightness_db = decibels_of(rms_of(differences(x)));
    return out;
}

double ear::level_db(held_part p, seconds skip, seconds length) const {
    return decibels_of(rms_of(at(p, skip, length)));
}

seconds ear::arrival(held_part p, hertz target) const {
    const double lag = rate_.value() / target.value();
    const seconds window{3.0 * lag / rate_.value()};
    // The delay is known to a few milliseconds, and what follows is another note.
    const seconds length = seconds{static_cast<double>(p.end - p.begin) / rate_.value()} - 8_ms;
    seconds last{0.0};
    for (seconds t{0.0}; t + window < length; t += 1_ms)
        if (analysis::repetition(at(p, t, window), lag) < arrived) last = t + 1_ms;
    return last + window + 1_ms > length ? length : last;
}

std::optional<std::size_t> first_sound(std::span<const double> record, std::size_t opening,
                                       double threshold_v, std::size_t from, std::size_t until) {
    if (opening == 0 || opening > record.size()) return std::nullopt;
    const double centre = analysis::mean(record.first(opening));
    for (std::size_t i = from; i < std::min(until, record.size()); ++i)
        if (std::abs(record[i] - centre) > threshold_v) return i;
    return std::nullopt;
}

}  // namespace cvrig::patching
