#include "rig/run/patch_score.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

#include "rig/stimulus/jack_levels.hpp"

namespace cvrig::patching {

namespace {

/// Common practice, no source: a gate input sees less than 1 V as low and more than 2 V as high.
constexpr volts surely_high{2.5};
constexpr volts surely_low{1.2};
constexpr volts middle{2.0};
/// An octave error of a build that begins at the top of the range is none of the wiring's business.
constexpr double top_share = 0.7;

// What every driven jack is made for.
volts common_high(const module_expectations& m) {
    volts common{5.0};
    for (const auto& jack : m.drive) common = std::min(common, jack.high);
    return common;
}

volts own_high(const bench_output& o, const module_expectations& m) {
    const auto* jack = m.find_jack(o.jack);
    return std::min(jack == nullptr ? volts{0.0} : jack->high, o.highest);
}

volts high_for(const bench_output& o, const module_expectations& m) {
    const volts common = common_high(m);
    return common >= surely_high ? std::min(common, o.highest) : own_high(o, m);
}

}  // namespace

safe_levels levels_for(const bench& b, const module_expectations& m) {
    safe_levels out;
    for (const auto& o : b.outputs) {
        const volts high = high_for(o, m);
        out.high.push_back(high);
        out.half.push_back(std::min(middle, high));
    }
    const volts octave = m.pitch.per_octave;
    const auto* pitch = m.find_jack("pitch");
    const volts low = pitch == nullptr ? volts{0.0} : std::max(pitch->low, volts{0.0});
    const volts high = std::min(pitch == nullptr ? volts{4.0} : pitch->high, common_high(m));
    out.upper = std::min(low + octave, std::max(surely_low, low));
    out.lower = std::max(out.upper - octave, low);
    out.top = std::max(low + (high - low) * top_share, out.upper);
    out.top_lower = std::max(out.top - octave, low);
    return out;
}

score_writer::score_writer(const bench& b, sample_rate rate)
    : bench_{b}, rate_{rate}, now_(b.outputs.size(), 0.0F) {
    out_.outputs.resize(b.outputs.size());
}

void score_writer::set(std::size_t output, volts v) {
    const auto& o = bench_.outputs[output];
    const volts within = std::clamp(v, o.lowest, o.highest);
    now_[output] = jack_levels{o, nullptr}.sample(within);
}

void score_writer::set_all(const std::vector<volts>& v) {
    for (std::size_t i = 0; i < v.size(); ++i) set(i, v[i]);
}

void score_writer::rest() {
    std::fill(now_.begin(), now_.end(), 0.0F);
}

held_part score_writer::hold(seconds length) {
    const auto samples = static_cast<std::size_t>(std::lround(length.value() * rate_.value()));
    held_part held{out_.outputs.empty() ? 0 : out_.outputs[0].size(), 0};
    held.end = held.begin + samples;
    for (std::size_t i = 0; i < now_.size(); ++i) out_.outputs[i].resize(held.end, now_[i]);
    return held;
}

volts_out score_writer::take() && {
    return std::move(out_);
}

}  // namespace cvrig::patching
