#include <algorithm>
#include <cmath>
#include <cstdint>

#include "analysis/fit.hpp"
#include "demo/arguments.hpp"
#include "demo/render.hpp"
#include "rig/checks/check.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"
#include "tests/rig/simple_module.hpp"
#include "tests/support/ferrule_filter.hpp"

namespace cvrig::testing {

namespace {

// Off the ends of the module's converter, where it would hear the bench's errors in one direction only.
constexpr double lowest_volts = 0.1, range_volts = 4.9;
constexpr double u_jack_volts = 0.002;

driven_jack cv_jack(const char* name) {
    return {.name = name,
            .is_gate = false,
            .low = volts{lowest_volts},
            .high = volts{range_volts},
            .rest = volts{0.0},
            .where = {}};
}

/// A unit of the demo module in a mode, at a bench whose voltages are off by as much as stated
/// at either end of its range.
struct simulated_unit {
    std::uint32_t unit;
    ferrule::mode mode;
    std::string mode_name;
    std::uint64_t seed;
    double at_bottom_volts, at_top_volts;  ///< of jack cutoff
    double decay_off_volts;                ///< at whichever end of its range
    std::size_t on_for_samples;            ///< before the passage: its oscillator runs freely
    double resonance_knob;
    /// How much more of its filter's envelope than its law says is left once it has nearly come to
    /// rest, as a share: what the measurement takes it for.
    double envelope_departs;
    /// Two echoes, each this much of the sound: a sawtooth whose harmonics are each off by 0.2 % rms,
    /// which is what the measurement takes one for.
    static constexpr double echo_share = 0.002;
    std::array<std::size_t, 2> echo_samples;

    [[nodiscard]] double at_jack(double asked) const {
        const double share = (asked - lowest_volts) / (range_volts - lowest_volts);
        return asked + (1.0 - share) * at_bottom_volts + share * at_top_volts;
    }
};

simulated_unit drawn(simulated_desk& desk) {
    static constexpr std::array modes{ferrule::mode::tied, ferrule::mode::struck,
                                      ferrule::mode::wide};
    static constexpr std::array names{"tied", "struck", "wide"};
    const auto which = static_cast<std::size_t>(desk.uniform(0.0, 2.999));
    const auto unit = static_cast<std::uint32_t>(desk.uniform(1.0, 1e6));
    const auto seed = static_cast<std::uint64_t>(desk.uniform(1.0, 1e6));
    return {unit,
            modes[which],
            names[which],
            seed,
            desk.normal(u_jack_volts),
            desk.normal(u_jack_volts),
            desk.normal(u_jack_volts),
            static_cast<std::size_t>(desk.uniform(4800.0, 9600.0)),
            desk.uniform(0.05, 0.45),
            desk.normal(0.1),
            {static_cast<std::size_t>(desk.uniform(48.0, 480.0)),
             static_cast<std::size_t>(desk.uniform(48.0, 480.0))}};
}

std::vector<double> with_echoes(const std::vector<double>& plain, const simulated_unit& u) {
    std::vector<double> out = plain;
    for (const std::size_t late : u.echo_samples)
        for (std::size_t i = late; i < out.size(); ++i)
            out[i] += simulated_unit::echo_share * plain[i - late];
    return out;
}

double decay_s(const simulated_unit& u, double decay_volts) {
    const auto made = ferrule::make_specimen(u.unit);
    const auto ranges = ferrule::ranges_of(u.mode);
    const double ratio = ranges.decay_longest_seconds / ranges.decay_shortest_seconds;
    return ranges.decay_shortest_seconds *
           std::pow(ratio, (decay_volts * made.decay.gain + made.decay.offset_volts) / 5.0);
}

/// What the envelope has left beyond its law, as volts at the jack: it and the jack move the cutoff by
/// octaves, both.
double departure_volts(const simulated_unit& u, double since_s, double decay_volts) {
    constexpr double envelope_octaves = 2.5;
    const double left = envelope_octaves * std::exp(-since_s / decay_s(u, decay_volts));
    return u.envelope_departs * left / ferrule::ranges_of(u.mode).cutoff_octaves_per_volt;
}

std::vector<std::vector<double>> sound_of(const simulated_unit& u, const passage& asked,
                                          std::size_t samples, sample_rate rate,
                                          std::vector<std::string> words) {
    words.insert(words.begin(), {"unit=" + std::to_string(u.unit), "seed=" + std::to_string(u.seed),
                                 "mode=" + u.mode_name, "decay knob=down",
                                 "resonance knob=" + std::to_string(u.resonance_knob)});
    auto arguments = ferrule::parse_arguments(words);
    arguments.stored = ferrule::calibrate(ferrule::make_specimen(u.unit), u.seed);
    ferrule::sound sent{static_cast<int>(rate.value()), 6, {}};
    const auto add = [&](const step& s, bool resting, double departs_volts = 0.0) {
        const auto other = [&](const char* jack) {
            const auto found = s.others.find(jack);
            return found == s.others.end() ? 0.0 : found->second.value();
        };
        for (const double v :
             {s.pitch.value(), s.gate && !resting ? 5.0 : 0.0, 0.0, s.slide && !resting ? 5.0 : 0.0,
              u.at_jack(other("cutoff")) + departs_volts, other("decay") + u.decay_off_volts})
            sent.samples.push_back(static_cast<float>(v));
    };
    for (std::size_t i = 0; i < u.on_for_samples; ++i) add(asked.steps.front(), true);
    seconds at{0.0};
    std::size_t n = 0;
    constexpr std::size_t first_level = 2;  // of a stair: behind its rest and the note that waits
    for (std::size_t i = 0; i < asked.steps.size(); ++i) {
        const auto& s = asked.steps[i];
        at += s.length;
        for (; n < samples && static_cast<double>(n) < at.value() * rate.value(); ++n) {
            const double since_s =
                static_cast<double>(n) / rate.value() - asked.steps.front().length.value();
            add(s, false, i >= first_level ? departure_volts(u, since_s, lowest_volts) : 0.0);
        }
    }
    for (; n < samples; ++n) add(asked.steps.back(), true);
    const auto heard =
        ferrule::render(sent, ferrule::plan_of(arguments, rate.value()), arguments.wires);
    std::vector<std::vector<double>> out(2);
    for (std::size_t i = 2 * u.on_for_samples; i < heard.samples.size(); ++i)
        out[i % 2].push_back(static_cast<double>(heard.samples[i]));
    for (auto& one : out) one = with_echoes(one, u);
    return out;
}

simulated_desk desk_for(const std::string& check, const std::vector<std::string>& limits,
                        std::uint64_t seed) {
    simulated_desk desk{check, limits, seed};
    for (const char* jack : {"cutoff", "decay"}) {
        desk.module.drive.push_back(cv_jack(jack));
        auto& out = desk.desk.outputs.emplace_back();
        out.jack = jack;
        out.u = volts{u_jack_volts};
    }
    // The demo's lowest note.
    desk.module.pitch.reference = hertz{65.40639132514966};
    return desk;
}

std::optional<trial> read(const check_result& result, const std::string& key, double truth) {
    const auto* found = result.find(key);
    if (found == nullptr || !found->measured) return std::nullopt;
    return trial_of(truth, *found->measured);
}

/// Slope of the best line through the true cutoffs at the voltages that the check plays.
double true_slope(const simulated_unit& u, sample_rate rate) {
    std::vector<double> x, y;
    for (int i = 0; i <= 20; ++i) {
        x.push_back(lowest_volts + (range_volts - lowest_volts) / 20.0 * i);
        y.push_back(
            std::log2(true_cutoff(u.mode, u.unit, u.resonance_knob, x.back(), rate.value())));
    }
    return analysis::fit_line(x, y)->slope;
}

double truth_of(const std::string& key, const simulated_unit& u, sample_rate rate) {
    if (key == "smallest cutoff")
        return true_cutoff(u.mode, u.unit, u.resonance_knob, lowest_volts, rate.value());
    if (key == "largest cutoff")
        return true_cutoff(u.mode, u.unit, u.resonance_knob, range_volts, rate.value());
    if (key == "octaves per volt") return true_slope(u, rate);
    return decay_s(u, key == "longest decay" ? range_volts : lowest_volts);
}

std::optional<trial> simulate_range(const std::string& key, std::uint64_t seed) {
    auto desk = desk_for("range", {key}, seed);
    const auto unit = drawn(desk);
    // The rate of the bench is the module's own, too.
    if (desk.uniform(0.0, 1.0) < 0.5) desk.desk.program.rate = sample_rate{96000.0};
    // As the demo's file demands it, for the length of the notes.
    const auto ranges = ferrule::ranges_of(unit.mode);
    const auto within = [](double nominal, double share) {
        return between(nominal * (1.0 - share), nominal * (1.0 + share), dimension::seconds);
    };
    desk.set("shortest decay", within(ranges.decay_shortest_seconds, 0.15));
    if (key.ends_with("decay"))
        desk.set("longest decay", within(ranges.decay_longest_seconds, 0.2));
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            return sound_of(unit, asked, samples, rate, {"cutoff knob=down"});
        },
        0.0);
    return read(result, key, truth_of(key, unit, desk.desk.rate()));
}

std::optional<trial> simulate_dead_zone(std::uint64_t seed) {
    auto desk = desk_for("range", {"dead zone"}, seed);
    const auto unit = drawn(desk);
    // Two whole steps of the stair and more, so that there is a truth that is not 0.
    const double percent = desk.uniform(12.0, 30.0);
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            return sound_of(
                unit, asked, samples, rate,
                {"cutoff knob=down", "fault=cutoff-dead-zone:" + std::to_string(percent)});
        },
        0.0);
    return read(result, "dead zone",
                (5.0 * percent - 100.0 * lowest_volts) / (range_volts - lowest_volts));
}

/// Two choices of settings, judged one by one and then compared.
std::optional<trial> simulate_comparison(const std::string& check, const std::string& key,
                                         const std::array<std::vector<std::string>, 2>& choices,
                                         std::size_t which, double truth, std::uint64_t seed) {
    auto desk = desk_for(check, {key}, seed);
    auto unit = drawn(desk);
    if (check == "unplugged") unit.envelope_departs = 0.0;  // a pulled cable does not carry it
    desk.module.checks.front().in = {{{"compared", "one"}}, {{"compared", "other"}}};
    std::vector<check_result> results;
    for (std::size_t i = 0; i < choices.size(); ++i) {
        results.push_back(desk.judge(
            [&](const passage& asked, std::size_t samples, sample_rate rate) {
                return sound_of(unit, asked, samples, rate, choices[i]);
            },
            0.0));
        results.back().choice = desk.module.checks.front().in[i];
    }
    const auto concluded =
        find_check(check)->conclude(desk.module, desk.desk, desk.module.checks.front(), results);
    if (concluded.empty()) return std::nullopt;
    const auto* found = concluded.front().find(key);
    if (found == nullptr || found->all.size() <= which) return std::nullopt;
    // One reading of the series: the worst of them is no fair draw.
    const auto& r = found->all[which];
    return trial_of(truth, r);
}

void make_last_note_louder(std::vector<double>& sound, const passage& asked, sample_rate rate,
                           double by_db) {
    seconds at{0.0};
    for (const auto& s : std::span{asked.steps}.first(asked.steps.size() - 1)) at += s.length;
    const auto begin = static_cast<std::ptrdiff_t>(std::llround(at.value() * rate.value()));
    const double gain = std::pow(10.0, by_db / 20.0);
    std::for_each(sound.begin() + begin, sound.end(), [gain](double& v) { v *= gain; });
}

std::optional<trial> simulate_extremes(std::uint64_t seed) {
    auto desk = desk_for("extremes", {"level afterwards"}, seed);
    const auto unit = drawn(desk);
    // Two strikes of a module are not equal: how much, the budget says of the converter of its cutoff.
    constexpr double step_db = 0.037;
    const double louder_db = desk.uniform(0.0, step_db) - desk.uniform(0.0, step_db);
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            auto sound =
                sound_of(unit, asked, samples, rate, {"cutoff knob=down", "resonance knob=up"});
            for (auto& jack : sound) make_last_note_louder(jack, asked, rate, louder_db);
            return sound;
        },
        0.0);
    return read(result, "level afterwards", 0.0);
}

std::optional<trial> simulate_slide(std::uint64_t seed) {
    auto desk = desk_for("slide range", {}, seed);
    const auto unit = drawn(desk);
    const double knob = desk.uniform(0.0, 1.0);
    const double tau_s = 0.022 * std::pow(0.2 / 0.022, knob);
    desk.set("step", std::vector<voltage_step>{{volts{2.0}, volts{1.0}}});
    desk.set("slide time", between(0.9 * tau_s, 1.1 * tau_s, dimension::seconds));
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            return sound_of(unit, asked, samples, rate,
                            {"cutoff knob=up", "slide knob=" + std::to_string(knob)});
        },
        0.0);
    return read(result, "slide time", tau_s);
}

}  // namespace

std::vector<covered_quantity> range_coverage() {
    std::vector<covered_quantity> out;
    for (const std::string key : {"smallest cutoff", "largest cutoff", "octaves per volt",
                                  "shortest decay", "longest decay"})
        out.push_back({"range", key, [key](std::uint64_t s) { return simulate_range(key, s); }});
    out.push_back({"range", "dead zone", simulate_dead_zone});
    out.push_back({"slide range", "slide time", simulate_slide});
    const std::array<std::vector<std::string>, 2> knobs{
        {{"cutoff knob=down"}, {"cutoff knob=half"}}};
    const std::array<std::vector<std::string>, 2> cables{
        {{"cutoff knob=half"}, {"cutoff knob=half", "cutoff cable=out"}}};
    out.push_back({"knob and jack", "knob is worth", [knobs](std::uint64_t s) {
                       return simulate_comparison("knob and jack", "knob is worth", knobs, 0, 2.5,
                                                  s);
                   }});
    out.push_back({"knob and jack", "adds up", [knobs](std::uint64_t s) {
                       return simulate_comparison("knob and jack", "adds up", knobs, 0, 0.0, s);
                   }});
    out.push_back({"unplugged", "reads as", [cables](std::uint64_t s) {
                       return simulate_comparison("unplugged", "reads as", cables, 0, 0.0, s);
                   }});
    out.push_back({"extremes", "level afterwards", simulate_extremes});
    return out;
}

}  // namespace cvrig::testing
