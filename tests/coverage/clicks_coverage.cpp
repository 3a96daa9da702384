#include <algorithm>
#include <cmath>
#include <numbers>

#include "rig/checks/listening.hpp"
#include "tests/coverage/lists.hpp"
#include "tests/coverage/simulated_take.hpp"

namespace cvrig::testing {

namespace {

constexpr double noise_volts = 1e-3;
// The ramps need a spectrum that is read up to the twelfth; the scene a wave without edges.
constexpr std::size_t harmonics_of_ramps = 12, harmonics_of_scene = 4;
constexpr double attack_s = 0.003;
constexpr double release_s = 0.008;
constexpr double click_dies_s = 0.002;
constexpr double held_note_begins_s = 0.02;  // behind the scene's first rest

/// What is wrong with the simulated module; 0: nothing.
struct wrong {
    double click_volts{0.0};
    double hole_s{0.0};
    double slip_s{0.0};
    double look_every_s{0.0};
    double cutoff_hz{0.0};  ///< at 0 V, an octave a volt; 0: no filter
    double settles_s{0.0};  ///< time constant with which the cutoff takes a step; 0: at once
    double at_s{0.0};       ///< of the click, hole or slip
    double phase{0.0}, gain{1.0}, amplitude{1.0};
};

double wave(double cycles, std::size_t harmonics) {
    double sum = 0.0;
    for (std::size_t k = 1; k <= harmonics; ++k) {
        const auto number = static_cast<double>(k);
        sum += std::sin(2.0 * std::numbers::pi * number * cycles) / number;
    }
    return sum;
}

// What four poles at rest leave of a harmonic.
double gain_of_filter(double hz, double cutoff_hz) {
    return cutoff_hz > 0.0 ? std::pow(1.0 + std::pow(hz / cutoff_hz, 2), -2.0) : 1.0;
}

double brightness_cents(double pitch_hz, double cutoff_hz) {
    double power = 0.0, moment = 0.0;
    for (std::size_t k = 1; k <= harmonics_of_ramps; ++k) {
        const auto number = static_cast<double>(k);
        const double level = gain_of_filter(number * pitch_hz, cutoff_hz) / number;
        power += level * level;
        moment += number * number * level * level;
    }
    return 600.0 * std::log2(moment / power);
}

double peak_of_wave() {
    double most = 0.0;
    for (int i = 0; i < 10000; ++i)
        most = std::max(most, std::abs(wave(i / 10000.0, harmonics_of_scene)));
    return most;
}

bool is_scene(const passage& p) {
    return p.steps.size() > 4;
}

class voice {
public:
    voice(const module_expectations& module, const wrong& what, const passage& asked,
          sample_rate rate)
        : module_{module}, what_{what}, asked_{asked}, rate_{rate.value()}, cycles_{what.phase} {}

    std::vector<double> sound(std::size_t samples) {
        std::vector<double> out(samples);
        for (std::size_t i = 0; i < samples; ++i) out[i] = next(static_cast<double>(i) / rate_);
        return out;
    }

private:
    // The step that sounds at a time, and how far it has gone.
    std::pair<const step*, double> step_at(double t) const {
        for (const auto& s : asked_.steps) {
            if (t < s.length.value()) return {&s, t};
            t -= s.length.value();
        }
        return {nullptr, 0.0};
    }

    double pitch_hz(double t) const {
        auto [s, into] = step_at(t);
        if (s == nullptr) s = &asked_.steps.back();
        volts at = s->pitch;
        if (const auto from = s->from.find("pitch"); from != s->from.end()) {
            if (what_.look_every_s > 0.0)
                into = std::floor(into / what_.look_every_s) * what_.look_every_s;
            at = from->second + (at - from->second) * (into / s->length.value());
        }
        return module_.pitch.pitch(at).value();
    }

    // How far into a ramp the cutoff is: held from look to look, like the pitch, and late by what steps have
    // still to go.
    double cutoff_into(double into) const {
        if (!(what_.look_every_s > 0.0)) return into;
        const double looks = std::floor(into / what_.look_every_s);
        const double held = looks * what_.look_every_s;
        if (!(what_.settles_s > 0.0)) return held;
        const double from_look_to_look = std::exp(-what_.look_every_s / what_.settles_s);
        const double to_go = (1.0 - std::pow(from_look_to_look, looks)) / (1.0 - from_look_to_look);
        return held - what_.look_every_s * to_go * std::exp((held - into) / what_.settles_s);
    }

    double filtered_wave(double t, double hz) {
        auto [s, into] = step_at(t);
        if (s == nullptr) s = &asked_.steps.back();
        double at = s->others.contains("cutoff") ? s->others.at("cutoff").value() : 0.0;
        if (const auto from = s->from.find("cutoff"); from != s->from.end()) {
            at = from->second.value() +
                 (at - from->second.value()) * (cutoff_into(into) / s->length.value());
        }
        const double cutoff_hz = what_.cutoff_hz * std::exp2(at);
        double sum = 0.0;
        for (std::size_t k = 1; k <= harmonics_of_ramps; ++k) {
            const auto number = static_cast<double>(k);
            sum += gain_of_filter(number * hz, cutoff_hz) / number *
                   std::sin(2.0 * std::numbers::pi * number * cycles_);
        }
        return sum;
    }

    double next(double t) {
        const auto [s, into] = step_at(t);
        const double gate = s != nullptr && s->gate ? 1.0 : 0.0;
        if (gate > level_)
            level_ = std::min(1.0, level_ + 1.0 / (attack_s * rate_));
        else
            level_ += (gate - level_) / (release_s * rate_);
        cycles_ += pitch_hz(t) / rate_;
        if (!is_scene(asked_)) {
            const bool filtered = what_.cutoff_hz > 0.0 && s != nullptr;
            const double v =
                filtered ? filtered_wave(t, pitch_hz(t)) : wave(cycles_, harmonics_of_ramps);
            return what_.gain * what_.amplitude * level_ * v;
        }
        if (what_.slip_s != 0.0 && t >= what_.at_s && !slipped_) {
            cycles_ += what_.slip_s * pitch_hz(t);
            slipped_ = true;
        }
        double v = what_.amplitude * level_ * wave(cycles_, harmonics_of_scene);
        if (what_.hole_s > 0.0 && t >= what_.at_s && t < what_.at_s + what_.hole_s) v = 0.0;
        if (t >= what_.at_s) v += what_.click_volts * std::exp(-(t - what_.at_s) / click_dies_s);
        return what_.gain * v;
    }

    const module_expectations& module_;
    const wrong& what_;
    const passage& asked_;
    double rate_;
    double cycles_;
    double level_{0.0};
    bool slipped_{false};
};

enum class disturbance { click, hole, slip, zipper, cutoff_zipper, pop };

struct simulation {
    wrong what;
    double truth;
};

constexpr double cutoff_volts = 5.0;

// The mean step, each with the weight that the reading's Hann window has where it comes.
double mean_cutoff_step(const simulated_desk& desk, const wrong& w, const passage& p) {
    const auto& ramp = p.steps.back();
    const double length_s = ramp.length.value();
    const double from = ramp.from.at("cutoff").value(), to = ramp.others.at("cutoff").value();
    const double hz = desk.module.pitch.pitch(ramp.pitch).value();
    const auto brightness = [&](double into_s) {
        return brightness_cents(hz,
                                w.cutoff_hz * std::exp2(from + (to - from) * into_s / length_s));
    };
    // Left out by the reading; its windows reach half a value beyond the first and the last.
    constexpr double lead_s = 0.0295, end_s = 0.0085;
    constexpr int parts = 1000;
    double sum = 0.0, weights = 0.0;
    for (int i = 0; i < parts; ++i) {
        const double share = (i + 0.5) / parts;
        const double at = lead_s + (length_s - lead_s - end_s) * share;
        const double weight = 1.0 - std::cos(2.0 * std::numbers::pi * share);
        sum += weight * (brightness(at) - brightness(at - w.look_every_s));
        weights += weight;
    }
    return sum / weights;
}

void add_cutoff(simulated_desk& desk) {
    desk.module.drive.push_back({.name = "cutoff",
                                 .is_gate = false,
                                 .low = volts{0.0},
                                 .high = volts{cutoff_volts},
                                 .rest = volts{0.0},
                                 .where = {}});
    auto& out = desk.desk.outputs.emplace_back();
    out.jack = "cutoff";
    out.u = volts{0.001};
}

simulation draw(simulated_desk& desk, disturbance which, const std::string& key) {
    wrong w;
    w.phase = desk.uniform(0.0, 1.0);
    w.amplitude = desk.uniform(1.0, 3.0);
    w.at_s = held_note_begins_s + desk.uniform(0.12, 0.28);
    double truth = 0.0;
    if (which == disturbance::click) {
        w.click_volts = std::pow(10.0, desk.uniform(-1.5, -0.3));
        truth = 20.0 * std::log10(w.click_volts / (w.amplitude * peak_of_wave()));
    } else if (which == disturbance::hole) {
        truth = w.hole_s = desk.uniform(0.3e-3, 5e-3);
    } else if (which == disturbance::slip) {
        truth = w.slip_s = desk.uniform(0.2e-3, 1.5e-3);
    } else if (which == disturbance::zipper) {
        w.look_every_s = desk.uniform(6e-3, 30e-3);
        // 0.5 V in 0.75 s are 800 cents a second.
        truth = key == "pitch steps" ? 800.0 * w.look_every_s : 1.0 / w.look_every_s;
    } else if (which == disturbance::cutoff_zipper) {
        w.look_every_s = desk.uniform(6e-3, 30e-3);
        w.cutoff_hz = desk.uniform(300.0, 600.0);
        // Half of all modules take a step at once, the others round it, but are done when the next one
        // comes: steps that are not are doubted.
        constexpr double shortest_s = 0.2e-3, longest_periods = 0.1;
        const double rounded = desk.uniform(-1.0, 1.0);
        if (rounded > 0.0)
            w.settles_s =
                shortest_s * std::pow(longest_periods * w.look_every_s / shortest_s, rounded);
        const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
        truth = key == "cutoff steps"
                    ? mean_cutoff_step(desk, w, find_check("clicks")->plan(request).back())
                    : 1.0 / w.look_every_s;
    } else {
        truth = std::pow(10.0, desk.uniform(-1.5, 0.0));
    }
    return {w, truth};
}

std::optional<trial> simulate(disturbance which, const std::string& key, std::uint64_t seed) {
    simulated_desk desk{"clicks", {key}, seed};
    if (which == disturbance::cutoff_zipper) add_cutoff(desk);
    const auto drawn = draw(desk, which, key);
    auto what = drawn.what;
    const auto truth = drawn.truth;
    const check_request request{desk.module, desk.desk, desk.module.checks.front(), {}, 1};
    what.gain = std::pow(10.0, desk.normal(gain_uncertainty(request, 0).value()) / 20.0);
    if (which == disturbance::pop)
        desk.opening = [&](double t) { return what.gain * truth * std::exp(-t / 0.005); };
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            const auto one = voice{desk.module, what, asked, rate}.sound(samples);
            return std::vector<std::vector<double>>{one, one};
        },
        noise_volts);
    const auto* found = result.find(key);
    if (found == nullptr || found->all.empty()) return std::nullopt;
    // One output: both have the same disturbance.
    const auto& r = found->all.front();
    return trial_of(truth, r);
}

}  // namespace

std::vector<covered_quantity> clicks_coverage() {
    struct row {
        disturbance which;
        const char* key;
        const char* name;
    };
    std::vector<covered_quantity> out;
    for (const row& r : {row{disturbance::click, "largest click", "largest click"},
                         row{disturbance::hole, "longest dropout", "longest dropout: a hole"},
                         row{disturbance::slip, "longest dropout", "longest dropout: a slip"},
                         row{disturbance::zipper, "pitch steps", "pitch steps"},
                         row{disturbance::zipper, "pitch step rate", "pitch step rate"},
                         row{disturbance::cutoff_zipper, "cutoff steps", "cutoff steps"},
                         row{disturbance::cutoff_zipper, "cutoff step rate", "cutoff step rate"},
                         row{disturbance::pop, "pop at boot", "pop at boot"}})
        out.push_back(
            {"clicks", r.name, [r](std::uint64_t seed) { return simulate(r.which, r.key, seed); }});
    return out;
}

}  // namespace cvrig::testing
