#include "rig/checks/pattern_readings.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/robust_fit.hpp"
#include "rig/checks/listening.hpp"
#include "rig/checks/pattern_slides.hpp"

namespace cvrig {

namespace {

using namespace literals;
using kind = pattern_step::kind;

// A module may be a few milliseconds late, and an attack takes a few more.
constexpr seconds after_strike = 12_ms;
constexpr seconds after_slide = 30_ms;     // where lateness makes less of a slide's pitch
constexpr double most_left_octaves = 0.5;  // of a slide when its pitch begins to be read
constexpr seconds before_end = 1_ms;
constexpr seconds release_time = 30_ms;

// A phase that is not straight, or little power in the fundamental: it is another pitch.
constexpr double most_roughness_cycles = 0.02;
constexpr double least_share = 0.15;
// A slide whose time constant is a little off bends the phase; one that jumps instead bends it by
// half a cycle and more, if it is an octave.
constexpr double most_slide_roughness_cycles = 0.15;
// An honest search costs a hundred times as much; where most notes are wrong a few tell enough.
constexpr int most_searches = 8;
constexpr cents steady{10.0};

constexpr seconds told_before = 60_ms;  // of the note before a slide
constexpr double widest_told_octaves = 7.5 / 12.0;

struct stretch {
    std::size_t begin, end;
};

class reader {
public:
    reader(const check_request& request, const pattern_part& part, const heard_passage& heard)
        : request_{request}, part_{part}, heard_{heard}, record_{heard.volts[0]} {}

    pattern_readings run() {
        pattern_readings out;
        auto bright = analysis::bright_part(record_, heard_.rate);
        if (!bright) return out;
        bright_ = std::move(*bright);
        for (std::size_t i = 0; i < part_.steps.size(); ++i) out.steps.push_back(read(i));
        read_slides_again(out.steps);
        out.loudest_silence = loudest_silence(out.steps);
        out.sounds = out.loudest_silence.value() > 0.0;
        if (out.sounds) out.silences = silences(out.loudest_silence.value());
        return out;
    }

private:
    [[nodiscard]] std::size_t samples(seconds t) const {
        return static_cast<std::size_t>(std::llround(t.value() * heard_.rate.value()));
    }

    [[nodiscard]] seconds seconds_of(std::size_t count) const {
        return seconds{static_cast<double>(count) / heard_.rate.value()};
    }

    // From the step's start to the end of its gate; a rest's to its own end.
    [[nodiscard]] stretch whole(std::size_t i) const {
        const std::size_t played = part_.steps[i].played_step;
        const auto& starts = heard_.step_starts;
        return {starts[played], played + 1 < starts.size() ? starts[played + 1] : heard_.end};
    }

    [[nodiscard]] stretch inner(std::size_t i, seconds skip) const {
        const auto all = whole(i);
        const std::size_t end =
            std::min(all.end - std::min(all.end, samples(before_end)), record_.size());
        return {std::min(all.begin + samples(skip), end), end};
    }

    // Where a slide really begins: at the pitch that the one before it had reached.
    [[nodiscard]] analysis::expected_pitch course(std::size_t i) {
        const auto& law = request_.module.pitch;
        const auto& s = part_.steps[i];
        const hertz to = law.pitch(s.pitch);
        const hertz from = s.what == kind::slid && i > 0 ? reached_ : to;
        const seconds length{static_cast<double>(whole(i).end - whole(i).begin) /
                             heard_.rate.value()};
        const analysis::expected_pitch out{from, to, pattern_slide_time(request_), seconds{0.0}};
        reached_ = out.at(length);
        before_ = out;
        return out;
    }

    step_reading read(std::size_t i) {
        const auto& s = part_.steps[i];
        courses_.emplace_back();
        step_reading out;
        out.length_s = static_cast<double>(whole(i).end - whole(i).begin) / heard_.rate.value();
        if (s.what == kind::rest) {
            const auto w = inner(i, release_time);
            out.rms_volts = noise_of(part(record_, w.begin, w.end)).value();
            return out;
        }
        const auto before = before_;
        const auto expected = course(i);
        courses_.back() = expected;
        const auto w = inner(i, after_strike);
        out.rms_volts = noise_of(part(record_, w.begin, w.end)).value();
        out.early = moment(i, expected, w.begin);
        // A slide that rises is lower, and its window longer, where that begins.
        const auto late = analysis::moment_samples(
            std::min(
                expected.to,
                expected.at(seconds_of(
                    w.end - std::min(w.end, analysis::moment_samples(expected.to, heard_.rate)) -
                    whole(i).begin))),
            heard_.rate);
        if (w.end >= w.begin + late) out.late = moment(i, expected, w.end - late);
        read_pitch(out, i, expected);
        if (s.what != kind::struck && before) read_slide(out, i, *before);
        return out;
    }

    // Whether the pitch slid, by its phase across the border: a wide interval shows that later, too,
    // while its pitch is read.
    void read_slide(step_reading& out, std::size_t i, analysis::expected_pitch before) const {
        const auto& s = part_.steps[i];
        const double octaves =
            std::abs((s.pitch - s.before).value() / request_.module.pitch.per_octave.value());
        if (octaves > widest_told_octaves) return;
        const auto border = whole(i).begin;
        const auto first = std::max(inner(i - 1, after_strike).begin,
                                    border - std::min(border, samples(told_before)));
        const auto end = inner(i, seconds{0.0}).end;
        before.age = seconds_of(first - whole(i - 1).begin);
        const auto found = analysis::read_slide_share(
            part(record_, first, end), heard_.rate,
            {before, border - first, request_.module.pitch.pitch(s.pitch),
             pattern_slide_time(request_)});
        if (found && found->power_share > least_share) out.slide = *found;
    }

    [[nodiscard]] std::optional<pattern_moment> moment(std::size_t i,
                                                       const analysis::expected_pitch& expected,
                                                       std::size_t begin) const {
        const auto window = analysis::moment_samples(expected.to, heard_.rate);
        const double centre =
            static_cast<double>(begin - whole(i).begin) + 0.5 * static_cast<double>(window);
        const seconds at{centre / heard_.rate.value()};
        const hertz pitch = expected.at(at);
        if (begin + window > inner(i, seconds{0.0}).end) return std::nullopt;
        const auto longest = std::min(record_.size(), inner(i, seconds{0.0}).end);
        const auto found = analysis::read_moment(part(record_, begin, longest),
                                                 part(bright_, begin, longest), heard_.rate, pitch);
        if (!found) return std::nullopt;
        const auto& law = request_.module.pitch;
        const double octaves = std::log2(pitch / law.pitch(part_.steps[i].pitch));
        return pattern_moment{at.value(),
                              part_.steps[i].pitch.value() + octaves * law.per_octave.value(),
                              found->level.value(), found->brightness.value()};
    }

    [[nodiscard]] bool is_slid(std::size_t i) const { return part_.steps[i].what == kind::slid; }

    [[nodiscard]] static seconds after_slide_of(const analysis::expected_pitch& expected) {
        const double octaves = std::abs(std::log2(expected.from / expected.to));
        const double periods = std::log(std::max(octaves / most_left_octaves, 1.0));
        return std::max(after_slide, expected.time_constant * periods);
    }

    void read_pitch(step_reading& out, std::size_t i, analysis::expected_pitch expected) {
        const seconds skip = is_slid(i) ? after_slide_of(expected) : after_strike;
        const auto w = inner(i, skip);
        const auto note = part(record_, w.begin, w.end);
        if (!sounds(heard_, 0, note)) return;
        expected.age = skip;
        const seconds tau = expected.time_constant;
        const seconds heard_for = seconds_of(note.size());
        out.left_share = is_slid(i) ? std::exp(-skip / tau) * (1.0 - std::exp(-heard_for / tau)) /
                                          (heard_for / tau)
                                    : 0.0;
        const auto found = analysis::read_short_note(note, heard_.rate, expected);
        if (!found) return;
        const double roughest = is_slid(i) ? most_slide_roughness_cycles : most_roughness_cycles;
        if (found->roughness < roughest && found->share > least_share) {
            out.offset = found->offset;
            out.u_offset = found->u_offset;
            return;
        }
        out.is_another_pitch = noise_of(note) > 10.0 * noise_of(heard_.silence[0]);
        // What still moves has no one pitch to search for.
        if (is_slid(i) || ++searches_ > most_searches) return;
        const hertz here =
            expected.at(seconds{0.5 * static_cast<double>(note.size()) / heard_.rate.value()});
        const auto tone = pitch_near(note, heard_.rate, here);
        if (!tone || tone->u_cents() > steady) return;
        out.offset = interval(tone->pitch, here);
        out.u_offset = tone->u_cents() + cents{1.0};
    }

    // What all slides have left too much makes the phase of each run in a bow, which would look like
    // chance: they are read once more against the course that they have in common.
    void read_slides_again(std::vector<step_reading>& steps) const {
        const auto& law = request_.module.pitch;
        const double excess = common_slide_course(part_, steps, law).excess;
        if (excess == 0.0) return;
        for (std::size_t i = 0; i < steps.size(); ++i) {
            if (!is_slid(i) || !steps[i].offset) continue;
            auto expected = *courses_[i];
            const seconds skip = after_slide_of(expected);
            const auto w = inner(i, skip);
            expected.age = skip - expected.time_constant * std::log1p(excess);
            const auto found =
                analysis::read_short_note(part(record_, w.begin, w.end), heard_.rate, expected);
            if (!found || found->roughness > most_slide_roughness_cycles) continue;
            steps[i].offset =
                found->offset + cents{excess * left_cents(part_.steps[i], steps[i], law)};
            steps[i].u_offset = found->u_offset;
        }
    }

    // 40 dB below what most notes have, if that is more than noise.
    [[nodiscard]] volts loudest_silence(const std::vector<step_reading>& steps) const {
        std::vector<double> notes;
        for (std::size_t i = 0; i < steps.size(); ++i)
            if (part_.steps[i].what != kind::rest) notes.push_back(steps[i].rms_volts);
        if (notes.empty()) return volts{0.0};
        const double middle = analysis::median_of(std::move(notes));
        const double noise = std::max(noise_of(heard_.silence[0]).value(), 2e-5);
        if (middle < 30.0 * noise) return volts{0.0};
        return volts{std::max(0.01 * middle, 4.0 * noise)};
    }

    // When each gate is high.
    [[nodiscard]] std::vector<stretch> gates() const {
        std::vector<stretch> out;
        for (std::size_t i = 0; i < part_.steps.size(); ++i) {
            const auto& s = part_.steps[i];
            if (s.what == kind::rest) continue;
            if (s.what == kind::struck)
                out.push_back(whole(i));
            else
                out.back().end = whole(i).end;
        }
        return out;
    }

    // Silence, millisecond by millisecond.
    [[nodiscard]] std::vector<silent_stretch> silences(double threshold) const {
        const std::size_t frame = std::max<std::size_t>(1, samples(1_ms));
        const double dc = middle_of(heard_.silence[0]);
        std::vector<silent_stretch> out;
        const auto all = gates();
        std::size_t begin = 0;
        for (std::size_t at = 0; at + frame <= heard_.end + frame; at += frame) {
            const bool over = at + frame > heard_.end;
            if (!over && rms(at, frame, dc) < threshold) continue;
            if (at > begin + samples(60_ms)) add_silence(out, all, begin, at);
            begin = at + frame;
        }
        return out;
    }

    static double middle_of(std::span<const double> record) {
        double sum = 0.0;
        for (const double v : record) sum += v;
        return record.empty() ? 0.0 : sum / static_cast<double>(record.size());
    }

    [[nodiscard]] double rms(std::size_t at, std::size_t frame, double dc) const {
        double squares = 0.0;
        for (std::size_t k = at; k < at + frame; ++k)
            squares += (record_[k] - dc) * (record_[k] - dc);
        return std::sqrt(squares / static_cast<double>(frame));
    }

    void add_silence(std::vector<silent_stretch>& out, const std::vector<stretch>& all,
                     std::size_t begin, std::size_t end) const {
        const std::size_t some = samples(20_ms);
        std::size_t touched = 0;
        bool inside = false;
        bool lost = false;
        for (const auto& g : all) {
            const std::size_t from = std::max(begin, g.begin);
            const std::size_t to = std::min(end, g.end);
            if (to < from + some) continue;
            lost = true;
            ++touched;
            inside = inside || begin > g.begin + some || end + some < g.end;
        }
        if (!lost) return;
        const double rate = heard_.rate.value();
        out.push_back({seconds{static_cast<double>(begin) / rate},
                       seconds{static_cast<double>(end) / rate}, inside || touched > 1});
    }

    const check_request& request_;
    const pattern_part& part_;
    const heard_passage& heard_;
    std::span<const double> record_;
    std::vector<double> bright_;
    hertz reached_{1.0};
    std::optional<analysis::expected_pitch> before_;                ///< course of the last note
    std::vector<std::optional<analysis::expected_pitch>> courses_;  ///< of every note
    int searches_{0};
};

}  // namespace

pattern_readings read_pattern(const check_request& request, const pattern_part& part_asked,
                              const heard_passage& heard) {
    return reader{request, part_asked, heard}.run();
}

}  // namespace cvrig
