#include <algorithm>
#include <cmath>

#include "analysis/samples.hpp"
#include "rig/run/patch_search.hpp"

namespace cvrig::patching {

namespace {

using namespace literals;

constexpr seconds lead = 60_ms;
constexpr seconds pulse = 70_ms;
constexpr seconds spare = 50_ms;
constexpr seconds frame = 5_ms;
constexpr double audible_v = 0.003;
constexpr double share_of_loudest = 0.03;
/// 12 dB.
constexpr double ratio = 4.0;

// Level of a record against time, in frames side by side.
class level_course {
public:
    level_course(std::span<const double> x, sample_rate rate)
        : samples_{static_cast<std::size_t>(frame.value() * rate.value())} {
        for (std::size_t i = 0; i + samples_ <= x.size(); i += samples_)
            levels_v_.push_back(analysis::deviation(x.subspan(i, samples_)));
    }
    [[nodiscard]] std::span<const double> between(std::size_t begin, std::size_t end) const {
        const std::size_t first = std::min(begin / samples_, levels_v_.size());
        const std::size_t last = std::clamp(end / samples_, first, levels_v_.size());
        return std::span{levels_v_}.subspan(first, last - first);
    }
    [[nodiscard]] double loudest() const {
        return levels_v_.empty() ? 0.0 : *std::max_element(levels_v_.begin(), levels_v_.end());
    }
    [[nodiscard]] std::size_t frame_samples() const noexcept { return samples_; }

private:
    std::size_t samples_;
    std::vector<double> levels_v_;
};

struct pulse_reading {
    double rise_db{0.0};
    std::optional<std::size_t> onset;  ///< sample of the record
};

double ratio_db(double a, double b) {
    return 20.0 * std::log10(std::max(a, 1e-6) / std::max(b, 1e-6));
}

// What a pulse did: the sound may begin until `latest` samples later.
pulse_reading listen(const level_course& course, held_part p, std::size_t latest,
                     double threshold_v) {
    const std::size_t a_little = 3 * course.frame_samples();
    const auto before = course.between(p.begin - a_little, p.begin);
    const auto during = course.between(p.begin, p.end + latest);
    if (before.empty() || during.empty()) return {};
    const double was = *std::min_element(before.begin(), before.end());
    const double most = *std::max_element(during.begin(), during.end());
    pulse_reading out;
    out.rise_db = most > threshold_v ? ratio_db(most, was) : 0.0;
    for (std::size_t i = 0; i < during.size() && out.rise_db >= thresholds::gate_db; ++i) {
        if (during[i] < threshold_v || during[i] < ratio * was) continue;
        const std::size_t at = p.begin + i * course.frame_samples();
        if (at <= p.begin + latest) out.onset = at;
        break;
    }
    return out;
}

// Finer than a frame, where there was silence before.
double refined(std::span<const double> record, std::size_t opening, std::size_t onset, held_part p,
               double threshold_v, std::size_t frame_samples) {
    const std::size_t from = std::max(onset - std::min(onset, 2 * frame_samples), p.begin);
    const auto first = first_sound(record, opening, threshold_v, from, onset + 2 * frame_samples);
    return static_cast<double>(first.value_or(onset) - p.begin);
}

// A note of before has died away by now.
bool is_on(const level_course& course, held_part opening, double threshold_v) {
    constexpr double share = 0.1;
    const auto before = course.between(opening.begin, opening.end);
    if (before.empty()) return false;
    const double level_v = analysis::mean(before);
    return level_v > threshold_v && level_v > share * course.loudest();
}

void judge_pulse(const search_scene& scene, std::size_t output, const pulse_reading& heard,
                 search_reading& into) {
    auto effect = effect_on(scene.desk, output, "gate", heard.rise_db, thresholds::gate_db);
    effect.there = heard.onset.has_value();
    into.effects.push_back(effect);
    if (effect.there) into.gate.push_back(output);
}

}  // namespace

bool search_gate(const search_scene& scene, search_reading& into) {
    score_writer score{scene.desk, scene.to_module.rate()};
    const auto opening = score.hold(lead);
    std::vector<held_part> pulses;
    for (std::size_t o = 0; o < scene.desk.outputs.size(); ++o) {
        score.set(o, scene.levels.high[o]);
        pulses.push_back(score.hold(pulse));
        score.rest();
        score.hold(scene.longest_latency + spare);
    }
    const auto heard = scene.to_module.play(std::move(score));
    if (!heard) {
        into.problem = scene.to_module.problem();
        return false;
    }
    const auto rate = scene.to_module.rate();
    const auto loud = compare_inputs(*heard, opening.end);
    into.best_input = loud.best;
    into.inputs_sound = loud.sounds;
    into.silence_db = 20.0 * std::log10(std::max(loud.silence_v[loud.best], 1e-8));
    const ear whole{*heard, loud.best, rate, 0.0};
    const level_course course{whole.record(), rate};
    const double threshold = std::max(audible_v, share_of_loudest * course.loudest());
    into.sounds_by_itself = is_on(course, opening, threshold);
    if (into.sounds_by_itself) return false;
    const auto latest = static_cast<std::size_t>(scene.longest_latency.value() * rate.value());
    for (std::size_t o = 0; o < pulses.size(); ++o) {
        const auto p = listen(course, pulses[o], latest, threshold);
        judge_pulse(scene, o, p, into);
        if (p.onset && !into.delay_samples)
            into.delay_samples = refined(whole.record(), opening.end, *p.onset, pulses[o],
                                         threshold, course.frame_samples());
    }
    into.any_sound = !into.gate.empty() || loud.sounds[loud.best];
    return !into.gate.empty();
}

}  // namespace cvrig::patching
