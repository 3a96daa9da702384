#include "rig/bench/trim_dialogue.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "rig/bench/self_test_findings.hpp"
#include "rig/bench/trim.hpp"
#include "rig/bench/trim_talk.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

constexpr seconds level_time{0.5};
constexpr std::size_t fewest_points = 3;
/// No converter has less; a channel that hardly moves is not plugged in.
constexpr double least_full_scale_volts = 0.1;
/// An input that hears only noise seems to need thousands of volts for its full scale.
constexpr double most_full_scale_volts = 1000.0;
/// 2 mV of doubt at one level are 2.4 cents at a pitch jack; a straight cable is far quieter.
constexpr volts most_noise{0.002};

struct heard_level {
    volts mean{0.0};
    volts u{0.0};
};

// The last part of each level, after the latency of any driver.
heard_level level_at(std::span<const float> x, std::size_t index, std::size_t samples) {
    const auto from = index * samples + samples * 3 / 4;
    const auto count = samples / 4;
    if (from + count > x.size()) return {volts{NAN}, volts{0.0}};
    double sum = 0.0;
    double squares = 0.0;
    for (const float v : x.subspan(from, count)) {
        sum += static_cast<double>(v);
        squares += static_cast<double>(v) * static_cast<double>(v);
    }
    const double mean = sum / static_cast<double>(count);
    const double variance = std::max(squares / static_cast<double>(count) - mean * mean, 0.0);
    // Hum and noise are slow against samples; a tenth of their size is a safe figure for the mean.
    return {volts{mean}, volts{std::max(0.1 * std::sqrt(variance), 1e-5)}};
}

class trimming {
public:
    trimming(audio_interface& to, const bench& b, const trim_request& request, std::istream& in,
             std::ostream& out)
        : interface_{to}, bench_{b}, request_{request}, talk_{in, out, request.stop} {}
    ~trimming() { interface_.hold(at_zero()); }
    trimming(const trimming&) = delete;
    trimming& operator=(const trimming&) = delete;

    trim_constants run();

private:
    using told = trim_talk::told;

    void trim_output(std::size_t index);
    [[nodiscard]] std::optional<std::vector<trim_point>> meter_points(std::size_t index);
    void trim_input(std::size_t index);
    void trim_loop();
    [[nodiscard]] std::optional<channel_trim> trim_loop_input();
    [[nodiscard]] std::optional<channel_trim> trim_loop_output(const channel_trim& input);
    [[nodiscard]] std::vector<trim_point> loop_points(const channel_trim& input, volts& noise);
    [[nodiscard]] std::size_t level_samples() const {
        return static_cast<std::size_t>(
            std::lround(level_time.value() * interface_.rate().value()));
    }
    [[nodiscard]] std::optional<std::size_t> source() const;
    [[nodiscard]] std::vector<trim_point> heard_points(
        std::size_t from_output, const channel_trim& listener,
        const std::function<std::span<const float>(const volts_in&)>& pick, volts& noise);
    [[nodiscard]] bool is_wanted_again(const trim_fit& fit, volts noise);
    [[nodiscard]] std::vector<volts> at_zero() const;
    [[nodiscard]] const channel_trim* trim_of_output(std::size_t channel) const;

    audio_interface& interface_;
    const bench& bench_;
    const trim_request& request_;
    trim_talk talk_;
    trim_constants found_;
};

std::vector<volts> trimming::at_zero() const {
    std::vector<volts> out;
    for (const auto& o : bench_.outputs) out.push_back(std::clamp(volts{0.0}, o.lowest, o.highest));
    return out;
}

std::optional<std::vector<trim_point>> trimming::meter_points(std::size_t index) {
    const auto& o = bench_.outputs[index];
    const auto levels = trim_levels(o.lowest, o.highest);
    std::vector<trim_point> points;
    while (points.size() < levels.size()) {
        const volts wanted = levels[points.size()];
        auto held = at_zero();
        held[index] = wanted;
        interface_.hold(held);
        volts read{0.0};
        const auto a = talk_.ask_meter(o, wanted, read);
        if (a.what == told::skip) return std::nullopt;
        if (a.what == told::repeat) {
            if (!points.empty()) points.pop_back();
            continue;
        }
        points.push_back({o.trim.sample(wanted), read});
    }
    return points;
}

void trimming::trim_output(std::size_t index) {
    const auto& o = bench_.outputs[index];
    const auto where = fmt::format("{} (jack {})", socket_of(o), o.jack);
    for (;;) {
        const auto points = meter_points(index);
        interface_.hold(at_zero());
        if (!points) return talk_.say(fmt::format("  {} keeps its constants.", where));
        const auto fit = fit_output_trim(*points, request_.meter);
        if (!fit || points->size() < fewest_points)
            return talk_.say(
                fmt::format("  {} keeps its constants: {}.", where,
                            fit ? "there are too few readings" : analysis::explain(fit.error())));
        if (std::abs(fit->trim.volts_per_full_scale) < least_full_scale_volts) {
            talk_.say(
                fmt::format("  {} hardly moves the meter; is it on that jack? Once more.", where));
            continue;
        }
        talk_.report(where, *fit, o.trim);
        if (!fit->explained && !talk_.is_kept()) continue;
        found_.outputs.push_back({o.channel, o.jack, fit->trim});
        return;
    }
}

const channel_trim* trimming::trim_of_output(std::size_t channel) const {
    const auto found = std::ranges::find(found_.outputs, channel, &trimmed_channel::channel);
    return found == found_.outputs.end() ? nullptr : &found->trim;
}

// The trimmed output with the widest limits.
std::optional<std::size_t> trimming::source() const {
    std::optional<std::size_t> best;
    for (std::size_t i = 0; i < bench_.outputs.size(); ++i) {
        if (trim_of_output(bench_.outputs[i].channel) == nullptr) continue;
        const auto range = [&](std::size_t k) {
            return bench_.outputs[k].highest - bench_.outputs[k].lowest;
        };
        if (!best || range(i) > range(*best)) best = i;
    }
    return best;
}

std::vector<trim_point> trimming::heard_points(
    std::size_t from_output, const channel_trim& listener,
    const std::function<std::span<const float>(const volts_in&)>& pick, volts& noise) {
    const auto& o = bench_.outputs[from_output];
    const auto levels = trim_levels(o.lowest, o.highest);
    const auto samples = level_samples();
    volts_out sent;
    sent.outputs.resize(bench_.outputs.size());
    for (const volts v : levels)
        sent.outputs[from_output].insert(sent.outputs[from_output].end(), samples,
                                         static_cast<float>(v.value()));
    const auto heard = interface_.exchange(sent, seconds{0.2}, request_.stop);
    const auto* trim = trim_of_output(o.channel);
    std::vector<trim_point> points;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const auto level = level_at(pick(heard), i, samples);
        noise = std::max(noise, level.u);
        points.push_back({listener.sample(level.mean), trim->at(o.trim.sample(levels[i]))});
    }
    return points;
}

// A cable that is not straight, or not alone, would make constants that spoil everything after.
bool trimming::is_wanted_again(const trim_fit& fit, volts noise) {
    if (noise > most_noise)
        talk_.say(
            fmt::format("  Something else sounds there: a held level moves by {}. Take every other "
                        "cable out of "
                        "that input, and silence the module.",
                        show(10.0 * noise.value(), dimension::volts, 2)));
    if (fit.explained && noise <= most_noise) return false;
    return !talk_.is_kept();
}

void trimming::trim_input(std::size_t index) {
    const auto& i = bench_.inputs[index];
    const auto& o = bench_.outputs[*source()];
    const auto where = fmt::format("{} (jack {})", socket_of(i), i.jack);
    const auto pick = [&](const volts_in& in) {
        return index < in.inputs.size() ? std::span<const float>{in.inputs[index]}
                                        : std::span<const float>{};
    };
    for (;;) {
        const auto a =
            talk_.ask(fmt::format("Put a cable from {} straight to {} and press enter (s: skip).",
                                  socket_of(o), socket_of(i)));
        if (a.what == told::skip) return;
        volts noise{0.0};
        const auto points = heard_points(*source(), i.trim, pick, noise);
        const auto fit = fit_input_trim(points, *trim_of_output(o.channel), noise);
        if (!fit || std::abs(fit->trim.volts_per_full_scale) > most_full_scale_volts) {
            talk_.say(fmt::format("  {} hears nothing; is the cable in? Once more.", where));
            continue;
        }
        talk_.report(where, *fit, i.trim);
        if (is_wanted_again(*fit, noise)) continue;
        found_.inputs.push_back({i.channel, i.jack, fit->trim});
        return;
    }
}

// The loop-back's input, from an output that is known; empty if it was left out.
std::optional<channel_trim> trimming::trim_loop_input() {
    const auto& l = *bench_.loop;
    const auto& o = bench_.outputs[*source()];
    const auto pick = [](const volts_in& in) { return std::span<const float>{in.loop}; };
    for (;;) {
        const auto a = talk_.ask(
            fmt::format("Put a cable from {} straight to {}, the loop-back's input, and press "
                        "enter (s: skip).",
                        socket_of(o), loop_input_of(l)));
        if (a.what == told::skip) return std::nullopt;
        volts noise{0.0};
        const auto points = heard_points(*source(), l.input_trim, pick, noise);
        const auto fit = fit_input_trim(points, *trim_of_output(o.channel), noise);
        if (!fit || std::abs(fit->trim.volts_per_full_scale) > most_full_scale_volts) {
            talk_.say(
                fmt::format("  {} hears nothing; is the cable in? Once more.", loop_input_of(l)));
            continue;
        }
        talk_.report(loop_input_of(l), *fit, l.input_trim);
        if (!is_wanted_again(*fit, noise)) return fit->trim;
    }
}

// The loop-back's output, from its input, both ends of its range and between.
std::optional<channel_trim> trimming::trim_loop_output(const channel_trim& input) {
    const auto& l = *bench_.loop;
    for (;;) {
        const auto a = talk_.ask(
            fmt::format("Put the loop-back cable back, from {} to {}, and press enter (s: skip).",
                        loop_output_of(l), loop_input_of(l)));
        if (a.what == told::skip) return std::nullopt;
        volts noise{0.0};
        const auto fit = fit_heard_output_trim(loop_points(input, noise), input, noise);
        if (!fit || std::abs(fit->trim.volts_per_full_scale) < least_full_scale_volts) {
            talk_.say(fmt::format("  {} hears nothing of {}; is the cable in? Once more.",
                                  loop_input_of(l), loop_output_of(l)));
            continue;
        }
        talk_.report(loop_output_of(l), *fit, l.output_trim);
        if (!is_wanted_again(*fit, noise)) return fit->trim;
    }
}

std::vector<trim_point> trimming::loop_points(const channel_trim& input, volts& noise) {
    const auto& l = *bench_.loop;
    volts_out sent;
    sent.outputs.resize(bench_.outputs.size());
    const std::vector<volts> levels{-1.0 * l.level, -0.5 * l.level, volts{0.0}, 0.5 * l.level,
                                    l.level};
    for (const volts v : levels)
        sent.loop.insert(sent.loop.end(), level_samples(), static_cast<float>(v.value()));
    const auto heard = interface_.exchange(sent, seconds{0.2}, request_.stop);
    std::vector<trim_point> points;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const auto level = level_at(heard.loop, i, level_samples());
        noise = std::max(noise, level.u);
        points.push_back(
            {l.output_trim.sample(levels[i]), input.at(l.input_trim.sample(level.mean))});
    }
    return points;
}

// Both or none: the one is measured by the other.
void trimming::trim_loop() {
    const auto input = trim_loop_input();
    if (!input) return;
    const auto output = trim_loop_output(*input);
    if (!output) return;
    const std::string name{loop_back_name};
    found_.inputs.push_back({bench_.loop->input_channel, name, *input});
    found_.outputs.push_back({bench_.loop->output_channel, name, *output});
}

trim_constants trimming::run() {
    talk_.cautions();
    const bool plugged_in = talk_.ask_for_module();
    found_.bench = bench_.name;
    found_.date = request_.date;
    found_.meter = fmt::format("{}, module {}", request_.meter.text,
                               plugged_in ? "plugged in" : "not plugged in");
    for (std::size_t i = 0; i < bench_.outputs.size(); ++i) trim_output(i);
    if (source()) {
        talk_.say("\nNow the inputs, from what the outputs are known to give.");
        for (std::size_t i = 0; i < bench_.inputs.size(); ++i) trim_input(i);
        if (bench_.loop) trim_loop();
    }
    if (found_.outputs.empty())
        throw user_error{"No channel was measured, so that nothing was written."};
    return std::move(found_);
}

}  // namespace

trim_constants trim_by_dialogue(audio_interface& to, const bench& b, const trim_request& request,
                                std::istream& in, std::ostream& out) {
    return trimming{to, b, request, in, out}.run();
}

}  // namespace cvrig
