#include "rig/link/audio_link.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <chrono>
#include <cmath>

#include "analysis/loop_sequence.hpp"
#include "rig/expectations/dimension.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/link/take_faults.hpp"

namespace cvrig {

namespace {

/// No interface takes longer from output to input.
constexpr seconds longest_latency{0.5};
/// Beyond a latency that is known, so that one that grew is still seen as a break.
constexpr seconds latency_margin{0.1};
constexpr double largest_gain_change = 0.01;
constexpr double largest_rate_error = 50e-6;
constexpr double full_scale = 0.9995;
constexpr std::size_t fewest_clipped = 3;
constexpr std::size_t most_sentences = 5;

std::size_t samples_in(seconds t, sample_rate rate) {
    return static_cast<std::size_t>(std::lround(t.value() * rate.value()));
}

/// The first sentences, and how many more there are.
void add_some(std::vector<std::string>& to, const std::vector<std::string>& from) {
    const std::size_t shown = std::min(from.size(), most_sentences);
    to.insert(to.end(), from.begin(), from.begin() + static_cast<std::ptrdiff_t>(shown));
    if (shown < from.size())
        to.push_back(fmt::format("There are {} more such places.", from.size() - shown));
}

void note(take& t, const std::string& sentence) {
    if (!t.log.empty() && t.log.back() != '\n') t.log += '\n';
    t.log += fmt::format("[{}]\n", sentence);
}

}  // namespace

audio_link::audio_link(audio_interface& to, const bench& b, audio_link_options options)
    : interface_{to}, bench_{b}, options_{std::move(options)}, latency_{b.audio->round_trip} {
    for (const auto& jack : options_.recorded) {
        const auto found = std::ranges::find(bench_.inputs, jack, &bench_input::jack);
        if (found == bench_.inputs.end())
            throw user_error{fmt::format("No input of bench {} hears jack {}.",
                                         cvrig::quoted(bench_.name), cvrig::quoted(jack))};
        heard_inputs_.push_back(static_cast<std::size_t>(found - bench_.inputs.begin()));
    }
}

take audio_link::play(const stimulus& s, const setting_choice& choice, int number, int attempt) {
    const auto begin = std::chrono::steady_clock::now();
    take t = begin_take(s, choice, number, attempt);
    t.heard_jacks = options_.recorded;
    for (int repeat = 0; repeat <= options_.repeats; ++repeat) {
        t.problems.clear();
        play_once(t);
        if (t.problems.empty() || options_.stop.stop_requested() || is_hopeless()) break;
        if (repeat < options_.repeats)
            note(t, fmt::format("played again, because of: {}", fmt::join(t.problems, " ")));
    }
    t.wall =
        seconds{std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count()};
    return t;
}

volts_out audio_link::prepared(const stimulus& s) const {
    volts_out out;
    for (const auto& o : bench_.outputs) {
        const auto at = std::ranges::find(s.jacks, o.jack);
        if (at == s.jacks.end())
            out.outputs.emplace_back();
        else
            out.outputs.push_back(s.volts[static_cast<std::size_t>(at - s.jacks.begin())]);
    }
    if (!bench_.loop) return out;
    out.loop = analysis::loop_sequence(s.size());
    const auto level = static_cast<float>(bench_.loop->level.value());
    for (float& v : out.loop) v *= level;
    return out;
}

void audio_link::play_once(take& t) {
    t.heard.clear();
    const auto rate = interface_.rate();
    const seconds tail =
        latency_ ? std::min(longest_latency, *latency_ + latency_margin) : longest_latency;
    const auto in = interface_.exchange(prepared(t.sent), tail, options_.stop);
    const bool lost = std::ranges::find(in.events, stream_event::kind::vanished,
                                        &stream_event::what) != in.events.end();
    lost_in_a_row_ = lost ? lost_in_a_row_ + 1 : 0;
    if (in.stopped) {
        t.problems.emplace_back("The take was stopped before its end.");
        return;
    }
    std::size_t origin = samples_in(latency_.value_or(seconds{0.0}), rate);
    const bool is_whole = in.size() >= t.sent.size() + samples_in(tail, rate);
    if (bench_.loop && is_whole) {
        auto loop = judge_loop(in, t.sent.size(), t);
        if (loop.latency_samples) {
            origin = static_cast<std::size_t>(std::max(0L, std::lround(*loop.latency_samples)));
            latency_ = seconds{*loop.latency_samples / rate.value()};
        }
        add_some(t.problems, loop.problems);
    } else if (!bench_.loop && !latency_) {
        t.problems.emplace_back(
            "The latency of the interface is not known; add a 'loop-back' cable or a 'round trip' "
            "to the bench file.");
    }
    add_events(in, t);
    if (!is_whole && t.problems.empty()) t.problems.emplace_back("The record is too short.");
    cut(in, origin, t);
    add_clipping(t);
}

audio_link::verdict_on_loop audio_link::judge_loop(const volts_in& in, std::size_t sent, take& t) {
    const auto rate = interface_.rate();
    const auto read = analysis::read_loop(in.loop, bench_.loop->level.value(), sent);
    if (!read)
        return {{fmt::format("Nothing that was sent through the loop-back cable came back (output "
                             "channel {}, input channel {}): {}; check the cable.",
                             bench_.loop->output_channel, bench_.loop->input_channel,
                             analysis::explain(read.error()))},
                std::nullopt};
    verdict_on_loop out{{}, read->latency_samples};
    const auto origin = static_cast<std::size_t>(std::max(0L, std::lround(read->latency_samples)));
    for (const auto& b : read->breaks) out.problems.push_back(in_words(b, rate, origin));
    // A broken record says nothing reliable about the gain.
    if (!first_loop_gain_ && read->breaks.empty()) first_loop_gain_ = read->gain;
    const double first_gain = first_loop_gain_.value_or(read->gain);
    const double change = read->gain / first_gain - 1.0;
    if (std::abs(change) > largest_gain_change + 2.0 * read->u_gain / std::abs(first_gain))
        out.problems.push_back(fmt::format(
            "The gain of the loop-back changed by {:+.1f} % since the first take; leave the level "
            "controls of the interface alone.",
            100.0 * change));
    if (std::abs(read->rate_error) > largest_rate_error + 2.0 * read->u_rate_error)
        out.problems.push_back(
            fmt::format("Outputs and inputs drift apart by {:.0f} ppm; both must run on one clock.",
                        1e6 * read->rate_error));
    note(t, fmt::format("latency {:.2f} ms ({:.2f} samples), loop-back gain {:.5f}, {} breaks",
                        1000.0 * read->latency_samples / rate.value(), read->latency_samples,
                        read->gain, read->breaks.size()));
    return out;
}

void audio_link::add_events(const volts_in& in, take& t) const {
    const auto rate = interface_.rate();
    const auto origin = samples_in(latency_.value_or(seconds{0.0}), rate);
    const auto said = judge_events(in.events, bench_.audio->simulated, rate, origin);
    for (const auto& sentence : said.notes) note(t, sentence);
    add_some(t.problems, said.problems);
}

void audio_link::cut(const volts_in& in, std::size_t begin, take& t) const {
    // The stimulus ends with a gap that is longer than a module takes to answer, so its own length
    // is all that a check needs.
    const std::size_t end = begin + t.sent.size();
    for (const std::size_t i : heard_inputs_) {
        const auto& from = in.inputs[i];
        if (from.size() < end) {
            t.heard.clear();
            return;
        }
        t.heard.emplace_back(from.begin() + static_cast<std::ptrdiff_t>(begin),
                             from.begin() + static_cast<std::ptrdiff_t>(end));
    }
}

void audio_link::add_clipping(take& t) const {
    for (std::size_t c = 0; c < t.heard.size(); ++c) {
        const auto& input = bench_.inputs[heard_inputs_[c]];
        std::size_t count = 0;
        std::size_t first = 0;
        for (std::size_t i = 0; i < t.heard[c].size(); ++i) {
            if (std::abs(input.trim.sample(volts{t.heard[c][i]})) < full_scale) continue;
            if (count++ == 0) first = i;
        }
        if (count < fewest_clipped) continue;
        t.problems.push_back(
            fmt::format("Jack {} overloads its input: {} samples are at full scale ({}), the first "
                        "at {:.3f} s; "
                        "attenuate it.",
                        cvrig::quoted(input.jack), count,
                        show(std::abs(input.trim.volts_per_full_scale), dimension::volts),
                        static_cast<double>(first) / interface_.rate().value()));
    }
}

std::string audio_link::description() const {
    return interface_.description();
}

}  // namespace cvrig
