#include "rig/bench/trim_dialogue.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <functional>
#include <optional>

#include "rig/bench/self_test_findings.hpp"
#include "rig/bench/trim.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

constexpr seconds level_time{0.5};
constexpr std::size_t fewest_points = 3;

std::string in_volts(volts v, int digits = 4) {
    return show(v.value(), dimension::volts, digits);
}

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
        : interface_{to}, bench_{b}, request_{request}, in_{in}, out_{out} {}
    ~trimming() { interface_.hold(at_zero()); }
    trimming(const trimming&) = delete;
    trimming& operator=(const trimming&) = delete;

    trim_constants run();

private:
    enum class told { value, repeat, skip };
    struct answer_line {
        told what{told::value};
        std::string text;
    };

    void say(const std::string& text) { out_ << text << '\n' << std::flush; }
    [[nodiscard]] answer_line ask(const std::string& question);
    void cautions();
    void ask_for_module();
    void trim_output(std::size_t index);
    [[nodiscard]] std::optional<std::vector<trim_point>> meter_points(std::size_t index);
    [[nodiscard]] answer_line ask_meter(const bench_output& o, volts wanted, volts& read);
    void trim_input(std::size_t index);
    void trim_loop();
    [[nodiscard]] std::optional<std::size_t> source() const;
    [[nodiscard]] std::vector<trim_point> heard_points(
        std::size_t from_output, const channel_trim& listener,
        const std::function<std::span<const float>(const volts_in&)>& pick, volts& noise);
    void report(const std::string& where, const trim_fit& fit, const channel_trim& before);
    [[nodiscard]] std::vector<volts> at_zero() const;
    [[nodiscard]] const channel_trim* trim_of_output(std::size_t channel) const;

    audio_interface& interface_;
    const bench& bench_;
    const trim_request& request_;
    std::istream& in_;
    std::ostream& out_;
    trim_constants found_;
    bool module_plugged_in_{false};
};

std::vector<volts> trimming::at_zero() const {
    std::vector<volts> out;
    for (const auto& o : bench_.outputs) out.push_back(std::clamp(volts{0.0}, o.lowest, o.highest));
    return out;
}

trimming::answer_line trimming::ask(const std::string& question) {
    out_ << question << ' ' << std::flush;
    std::string text;
    if (request_.stop.stop_requested() || !std::getline(in_, text) ||
        request_.stop.stop_requested())
        throw user_error{"The trimming was stopped; nothing was written."};
    const auto first = text.find_first_not_of(" \t\r");
    text = first == std::string::npos ? "" : text.substr(first);
    text.erase(text.find_last_not_of(" \t\r") + 1);
    if (text == "a" || text == "A")
        throw user_error{"The trimming was aborted; nothing was written."};
    if (text == "r" || text == "R") return {told::repeat, text};
    if (text == "s" || text == "S") return {told::skip, text};
    return {told::value, text};
}

void trimming::cautions() {
    say("Before you begin:");
    say("  - Take loudspeakers, headphones and amplifiers off the outputs: a steady voltage burns");
    say("    their coils and cannot be heard.");
    say("  - Switch the case off before you plug a power ribbon, and mind its polarity.");
    say("  - Set the meter to DC volts. Touch tip and sleeve of the plug, and short nothing.");
    say("At every question: r goes back one reading, s skips the channel, a ends all.\n");
}

void trimming::ask_for_module() {
    for (;;) {
        const auto a = ask("Is the module plugged in, as it will be when it is tested? (y/n)");
        if (a.text != "y" && a.text != "n") continue;
        module_plugged_in_ = a.text == "y";
        break;
    }
    if (module_plugged_in_) return;
    say(fmt::format(
        "Then its load is missing: an output of 1 kilohm into a jack of 100 kilohm loses {:.1f} "
        "cents an octave that this trim will not know of. Plug it in if you can.",
        loading_error(1e3, 100e3).value()));
}

// A reading that is five times too large or small is more often a slip than a bench.
bool is_far(volts read, volts wanted) {
    const double ratio = std::abs(read.value()) / std::max(std::abs(wanted.value()), 1e-9);
    return std::abs(wanted.value()) >= 0.5 ? ratio > 5.0 || ratio < 0.2
                                           : std::abs(read.value()) > 2.5;
}

trimming::answer_line trimming::ask_meter(const bench_output& o, volts wanted, volts& read) {
    std::optional<volts> doubted;
    for (;;) {
        const auto a = ask(fmt::format("{} at {} (jack {}): what does the meter say?",
                                       in_volts(wanted), socket_of(o), o.jack));
        if (a.what != told::value) return a;
        const auto v = parse_meter_reading(a.text);
        if (!v) {
            say(fmt::format("'{}' is no voltage; type it as in 3.012, 3,012 V or 12 mV.", a.text));
            continue;
        }
        if (is_far(*v, wanted) && doubted != v) {
            say(fmt::format("{} is far from {}; look again, and type it again if it is so.",
                            in_volts(*v), in_volts(wanted)));
            doubted = v;
            continue;
        }
        read = *v;
        return a;
    }
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
        const auto a = ask_meter(o, wanted, read);
        if (a.what == told::skip) return std::nullopt;
        if (a.what == told::repeat) {
            if (!points.empty()) points.pop_back();
            continue;
        }
        points.push_back({o.trim.sample(wanted), read});
    }
    return points;
}

void trimming::report(const std::string& where, const trim_fit& fit, const channel_trim& before) {
    const auto& t = fit.trim;
    say(fmt::format("  {}: full scale {}, offset {}, largest departure {}", where,
                    show(t.volts_per_full_scale, t.u_volts_per_full_scale, dimension::volts),
                    show(t.offset.value(), t.u_offset.value(), dimension::volts),
                    in_volts(fit.largest_departure, 2)));
    if (!fit.explained)
        say(
            fmt::format("  At {} it lies {} off the line, more than the meter or the noise "
                        "explains: a slip in typing, a meter that changed its range, a limiter or "
                        "a loose plug. Repeat this channel.",
                        in_volts(fit.at), in_volts(fit.largest_departure, 2)));
    if (t.volts_per_full_scale * before.volts_per_full_scale < 0.0)
        say(fmt::format("  {} turns the polarity; the trim allows for it.", where));
}

void trimming::trim_output(std::size_t index) {
    const auto& o = bench_.outputs[index];
    const auto where = fmt::format("{} (jack {})", socket_of(o), o.jack);
    for (;;) {
        const auto points = meter_points(index);
        interface_.hold(at_zero());
        if (!points) return say(fmt::format("  {} keeps its constants.", where));
        const auto fit = fit_output_trim(*points, request_.meter);
        if (!fit || points->size() < fewest_points)
            return say(
                fmt::format("  {} keeps its constants: {}.", where,
                            fit ? "there are too few readings" : analysis::explain(fit.error())));
        if (std::abs(fit->trim.volts_per_full_scale) < 0.1) {
            say(fmt::format("  {} hardly moves the meter; is it on that jack? Once more.", where));
            continue;
        }
        report(where, *fit, o.trim);
        if (!fit->explained && ask("Keep it (k) or measure it again (enter)?").text != "k")
            continue;
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
    const auto samples =
        static_cast<std::size_t>(std::lround(level_time.value() * interface_.rate().value()));
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

void trimming::trim_input(std::size_t index) {
    const auto& i = bench_.inputs[index];
    const auto& o = bench_.outputs[*source()];
    const auto where = fmt::format("{} (jack {})", socket_of(i), i.jack);
    const auto a = ask(fmt::format("Put a cable from {} straight to {} and press enter (s: skip).",
                                   socket_of(o), socket_of(i)));
    if (a.what == told::skip) return;
    volts noise{0.0};
    const auto points = heard_points(
        *source(), i.trim,
        [&](const volts_in& in) {
            return index < in.inputs.size() ? std::span<const float>{in.inputs[index]}
                                            : std::span<const float>{};
        },
        noise);
    const auto fit = fit_input_trim(points, *trim_of_output(o.channel), noise);
    if (!fit) return say(fmt::format("  {} hears nothing; it keeps its constants.", where));
    report(where, *fit, i.trim);
    found_.inputs.push_back({i.channel, i.jack, fit->trim});
}

void trimming::trim_loop() {
    const auto& l = *bench_.loop;
    const auto& o = bench_.outputs[*source()];
    if (ask(fmt::format("Put a cable from {} straight to {}, the loop-back's input, and press "
                        "enter (s: skip).",
                        socket_of(o), loop_input_of(l)))
            .what == told::skip)
        return;
    volts noise{0.0};
    const auto points = heard_points(
        *source(), l.input_trim, [](const volts_in& in) { return std::span<const float>{in.loop}; },
        noise);
    const auto input = fit_input_trim(points, *trim_of_output(o.channel), noise);
    if (!input)
        return say(fmt::format("  {} hears nothing; the loop-back keeps its constants.",
                               loop_input_of(l)));
    report(loop_input_of(l), *input, l.input_trim);
    if (ask(fmt::format("Put the loop-back cable back, from {} to {}, and press enter (s: skip).",
                        loop_output_of(l), loop_input_of(l)))
            .what == told::skip)
        return;
    const auto samples =
        static_cast<std::size_t>(std::lround(level_time.value() * interface_.rate().value()));
    volts_out sent;
    sent.outputs.resize(bench_.outputs.size());
    const std::vector<volts> levels{-1.0 * l.level, -0.5 * l.level, volts{0.0}, 0.5 * l.level,
                                    l.level};
    for (const volts v : levels)
        sent.loop.insert(sent.loop.end(), samples, static_cast<float>(v.value()));
    const auto heard = interface_.exchange(sent, seconds{0.2}, request_.stop);
    std::vector<trim_point> back;
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const auto level = level_at(heard.loop, i, samples);
        noise = std::max(noise, level.u);
        back.push_back(
            {l.output_trim.sample(levels[i]), input->trim.at(l.input_trim.sample(level.mean))});
    }
    const auto output = fit_heard_output_trim(back, input->trim, noise);
    if (!output) return say("  The loop-back carries nothing; it keeps its constants.");
    report(loop_output_of(l), *output, l.output_trim);
    found_.inputs.push_back({l.input_channel, "loop-back", input->trim});
    found_.outputs.push_back({l.output_channel, "loop-back", output->trim});
}

trim_constants trimming::run() {
    cautions();
    ask_for_module();
    found_.bench = bench_.name;
    found_.date = request_.date;
    found_.meter = fmt::format("{}, module {}", request_.meter.text,
                               module_plugged_in_ ? "plugged in" : "not plugged in");
    for (std::size_t i = 0; i < bench_.outputs.size(); ++i) trim_output(i);
    if (source()) {
        say("\nNow the inputs, from what the outputs are known to give.");
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
