#include "rig/bench/trim_talk.hpp"

#include <fmt/format.h>
#include <cmath>
#include <optional>

#include "rig/bench/meter.hpp"
#include "rig/bench/self_test_findings.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

std::string in_volts(volts v, int digits = 4) {
    return show(v.value(), dimension::volts, digits);
}

// A reading that is five times too large or small is more often a slip than a bench.
bool is_far(volts read, volts wanted) {
    const double ratio = std::abs(read.value()) / std::max(std::abs(wanted.value()), 1e-9);
    return std::abs(wanted.value()) >= 0.5 ? ratio > 5.0 || ratio < 0.2
                                           : std::abs(read.value()) > 2.5;
}

}  // namespace

trim_talk::answer trim_talk::ask(const std::string& question) {
    out_ << question << ' ' << std::flush;
    std::string text;
    if (stop_.stop_requested() || !std::getline(in_, text) || stop_.stop_requested())
        throw user_error{"The trimming was stopped; nothing was written."};
    const auto first = text.find_first_not_of(" \t\r");
    text = first == std::string::npos ? "" : text.substr(first);
    text.erase(text.find_last_not_of(" \t\r") + 1);
    if (text == "a" || text == "A")
        throw user_error{"The trimming was aborted; nothing was written."};
    if (text == "r" || text == "R") return {told::repeat, text};
    if (text == "s" || text == "S") return {told::skip, text};
    return {told::words, text};
}

void trim_talk::cautions() {
    say("Before you begin:");
    say("  - Take loudspeakers, headphones and amplifiers off the outputs: a steady voltage burns");
    say("    their coils and cannot be heard.");
    say("  - Switch the case off before you plug a power ribbon, and mind its polarity.");
    say("  - Set the meter to DC volts. Touch tip and sleeve of the plug, and short nothing.");
    say("At every question: r goes back one reading, s skips the channel, a ends all.\n");
}

bool trim_talk::ask_for_module() {
    bool plugged_in = false;
    for (;;) {
        const auto a = ask("Is the module plugged in, as it will be when it is tested? (y/n)");
        if (a.text != "y" && a.text != "n") continue;
        plugged_in = a.text == "y";
        break;
    }
    if (plugged_in) return true;
    say(fmt::format(
        "Then its load is missing: an output of 1 kilohm into a jack of 100 kilohm loses {:.1f} "
        "cents an octave that this trim will not know of. Plug it in if you can.",
        loading_error(1e3, 100e3).value()));
    return false;
}

trim_talk::answer trim_talk::ask_meter(const bench_output& o, volts wanted, volts& read) {
    std::optional<volts> doubted;
    for (;;) {
        auto a = ask(fmt::format("{} at {} (jack {}): what does the meter say?", in_volts(wanted),
                                 socket_of(o), o.jack));
        if (a.what != told::words) return a;
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

bool trim_talk::is_kept() {
    const auto a = ask("Keep it (k) or measure it again (enter)?");
    return a.text == "k" || a.text == "K";
}

void trim_talk::report(const std::string& where, const trim_fit& fit, const channel_trim& before) {
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

}  // namespace cvrig
