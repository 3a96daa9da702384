// How often judge_strike is wrong, undecided and over-confident, on synthetic voices drawn at
// random. Usage: strike_accuracy [voices] [seed...]. A seed not named in the project's notes is an
// unseen one.

#include <algorithm>
#include <array>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <random>
#include <string>

#include "analysis/strike.hpp"
#include "tests/support/synthetic_voice.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::testing;

struct event {
    const char* name;
    double amplitude_again, filter_again, late_s;
    bool from_zero;
    double click;
};

constexpr std::array<event, 9> events{{{"goes on", 0, 0, 0, false, 0},
                                       {"both struck", 1, 1, 0, false, 0},
                                       {"amplitude only", 1, 0, 0, false, 0},
                                       {"filter only", 0, 1, 0, false, 0},
                                       {"both at 60 %", 0.6, 0.6, 0, false, 0},
                                       {"both at 30 %", 0.3, 0.3, 0, false, 0},
                                       {"both, 20 ms late", 1, 1, 0.020, false, 0},
                                       {"both, from zero", 1, 1, 0, true, 0},
                                       {"goes on, click", 0, 0, 0, false, 0.3}}};

enum class truth { went_on, struck, partial };

truth truth_of(double again) {
    return again <= 0.0 ? truth::went_on : again >= 1.0 ? truth::struck : truth::partial;
}

double claim(const odds& o, truth t) {
    return t == truth::went_on ? o.went_on : t == truth::struck ? o.struck : o.partial;
}

truth likeliest(const odds& o) {
    if (o.partial >= o.went_on && o.partial >= o.struck) return truth::partial;
    return o.went_on >= o.struck ? truth::went_on : truth::struck;
}

struct tally {
    int n{0}, refused{0}, wrong{0}, decided{0}, decided_wrong{0}, swapped{0}, whole_swapped{0};

    void add(const odds& o, bool was_refused, truth t) {
        ++n;
        if (was_refused) {
            ++refused;
            return;
        }
        const truth said = likeliest(o);
        const bool decided_now = claim(o, said) >= 0.9;
        wrong += said != t;
        decided += decided_now;
        decided_wrong += decided_now && said != t;
        const bool whole = said != truth::partial && t != truth::partial;
        whole_swapped += whole && said != t;
    }
};

void print(const char* name, const tally& t) {
    const auto percent = [](int part, int of) { return of > 0 ? 100.0 * part / of : 0.0; };
    const int judged = t.n - t.refused;
    std::printf("  %-18s %5d %8.1f %8.2f %9.1f %10.2f %9.2f\n", name, t.n, percent(t.refused, t.n),
                percent(t.wrong, judged), percent(t.decided, judged),
                percent(t.decided_wrong, t.decided), percent(t.whole_swapped, judged));
}

/// Claims of every verdict, sorted into bins, against how often they came true.
struct reliability {
    static constexpr std::array<double, 9> edges{0.0, 0.05, 0.2, 0.4, 0.6, 0.8, 0.9, 0.977, 1.01};
    std::array<double, 8> claimed{};
    std::array<int, 8> n{}, right{};

    void add(const odds& o, truth t) {
        for (const truth v : {truth::went_on, truth::struck, truth::partial}) {
            const double p = claim(o, v);
            const auto bin = static_cast<std::size_t>(
                std::upper_bound(edges.begin(), edges.end(), p) - edges.begin() - 1);
            claimed[bin] += p;
            ++n[bin];
            right[bin] += v == t;
        }
    }

    void print(const char* name) const {
        std::printf("  %s, claimed -> true (n):", name);
        for (std::size_t i = 0; i < n.size(); ++i) {
            if (n[i] > 0) {
                std::printf("  %.3f -> %.3f (%d)", claimed[i] / n[i],
                            static_cast<double>(right[i]) / n[i], n[i]);
            }
        }
        std::printf("\n");
    }
};

struct setting {
    double from_hz, to_hz, glide_s, wait_s;
};

enum class plan { searched_wait, short_wait, small_fall };
enum class interval_kind { semitone, wide };

/// The pattern as played on the bench: a wait in which the level falls 8 dB (at most 1.5 s), or a
/// short one against a slow amplitude decay.
setting draw_setting(std::mt19937_64& random, plan p, interval_kind kind, synthetic_voice& voice) {
    std::uniform_real_distribution<double> unit;
    setting s{};
    s.from_hz = 60.0 * std::pow(6.0, unit(random));
    const double size = kind == interval_kind::semitone ? 1 : random() % 2 == 0 ? 7 : 12;
    const double semitones = size * (random() % 2 == 0 ? 1 : -1);
    s.to_hz = s.from_hz * std::exp2(semitones / 12);
    s.glide_s = random() % 4 == 0 ? 0.0 : 0.002 * std::pow(30.0, unit(random));
    voice = random_voice(random(), std::min(s.from_hz, s.to_hz));
    s.wait_s = std::clamp(0.92 * voice.amplitude.decay_s, 0.12, 1.5);
    if (p == plan::short_wait) {
        voice.amplitude.decay_s = 3.0 + unit(random);
        voice.filter.decay_s = 0.1 * std::pow(10.0, unit(random));
        voice.noise_v = voice.level_v * std::pow(10.0, -(60.0 + 20.0 * unit(random)) / 20.0);
        s.wait_s = 0.3 + 0.2 * unit(random);
    }
    if (p == plan::small_fall) {
        voice.amplitude.decay_s = 3.0;
        voice.amplitude.law = decay_law::exponential;
        voice.decay_per_octave = 0.0;
        voice.filter.decay_s = 0.1 * std::pow(10.0, unit(random));
        voice.noise_v = voice.level_v * std::pow(10.0, -70.0 / 20.0);
        s.wait_s = 0.06 + 0.34 * unit(random);
    }
    return s;
}

/// One misjudged step, with what was special about its voice.
void list(const char* name, const strike_reading& r, const setting& s, const synthetic_voice& v) {
    const auto show = [](const char* what, const odds& o, double depth, double contrast,
                         bool refused) {
        std::printf(" | %s %.3f %.3f %.3f depth %.3f contrast %.3f%s", what, o.went_on, o.struck,
                    o.partial, depth, contrast, refused ? " refused" : "");
    };
    std::printf("# %s", name);
    show("amplitude", r.amplitude, r.amplitude_depth, r.amplitude_contrast,
         r.amplitude_refused.has_value());
    show("filter", r.filter, r.filter_depth, r.filter_contrast, r.filter_refused.has_value());
    std::printf(" | %.0f to %.0f Hz, glide %.0f ms, wait %.2f s", s.from_hz, s.to_hz,
                s.glide_s * 1e3, s.wait_s);
    std::printf(" | decays %.2f s law %d, %.2f s law %d, per octave %.2f", v.amplitude.decay_s,
                static_cast<int>(v.amplitude.law), v.filter.decay_s, static_cast<int>(v.filter.law),
                v.decay_per_octave);
    std::printf(
        " | rests at %.1f f0, opens %.1f octaves%s, q %.1f, %d poles, tracks %.2f | %.0f dB\n",
        v.resting_hz / std::min(s.from_hz, s.to_hz), v.opening_octaves,
        v.opens_in_hertz ? " in hertz" : "", v.q, v.poles, v.key_tracking,
        20 * std::log10(v.level_v / v.noise_v));
}

struct table {
    std::array<tally, events.size()> amplitude, filter, filter_clear;
    reliability amplitude_odds, filter_odds;
    std::array<tally, 5> by_fall;
    double cpu_s{0.0}, sound_s{0.0};
    int n{0}, failed{0};
};

constexpr std::array<double, 4> fall_edges_db{0.35, 0.5, 0.7, 0.9};
constexpr std::array<const char*, 5> fall_names{"fall < 0.35 dB", "0.35 to 0.5 dB", "0.5 to 0.7 dB",
                                                "0.7 to 0.9 dB", "0.9 to 1.2 dB"};

void judge_voice(table& out, const synthetic_voice& voice, const setting& s,
                 std::mt19937_64& random) {
    constexpr double struck_at_s = 0.1;
    const double fall_db = 8.686 * s.wait_s / voice.amplitude.decay_s;
    played_note a;
    a.from_hz = a.to_hz = s.from_hz * (1.0 + 0.003 * (static_cast<double>(random() % 3) - 1.0));
    a.length_s = struck_at_s + s.wait_s + 0.36;
    a.seed = random();
    played_note b = a;
    b.from_hz = b.to_hz = a.from_hz * s.to_hz / s.from_hz;
    b.seed = random();
    const auto from = play(voice, a);
    const auto to = play(voice, b);
    const auto silence = play_silence(voice, 0.2, random());
    for (std::size_t e = 0; e < events.size(); ++e) {
        played_note step = a;
        step.to_hz = b.from_hz;
        step.glide_s = s.glide_s;
        step.step_at_s =
            struck_at_s + s.wait_s + 0.003 * (static_cast<double>(random() % 201) / 100.0 - 1.0);
        step.amplitude_again = events[e].amplitude_again;
        step.filter_again = events[e].filter_again;
        step.late_s = events[e].late_s;
        step.from_zero = events[e].from_zero;
        step.click_v = events[e].click * voice.level_v;
        step.seed = random();
        const auto sound = play(voice, step);
        const std::clock_t before = std::clock();
        const auto reading =
            judge_strike({sample_rate{voice.rate_hz}, from, to, sound, silence, hertz{s.from_hz},
                          hertz{s.to_hz}, seconds{struck_at_s}, seconds{s.wait_s}});
        out.cpu_s += static_cast<double>(std::clock() - before) / CLOCKS_PER_SEC;
        out.sound_s += a.length_s;
        ++out.n;
        if (!reading) {
            ++out.failed;
            continue;
        }
        const truth amplitude = truth_of(events[e].amplitude_again);
        const truth filter = truth_of(events[e].filter_again);
        const auto bin = static_cast<std::size_t>(std::ranges::upper_bound(fall_edges_db, fall_db) -
                                                  fall_edges_db.begin());
        out.by_fall[bin].add(reading->amplitude, reading->amplitude_refused.has_value(), amplitude);
        out.amplitude[e].add(reading->amplitude, reading->amplitude_refused.has_value(), amplitude);
        out.filter[e].add(reading->filter, reading->filter_refused.has_value(), filter);
        if (reading->filter_contrast >= 0.5) {
            out.filter_clear[e].add(reading->filter, reading->filter_refused.has_value(), filter);
        }
        if (!reading->amplitude_refused) out.amplitude_odds.add(reading->amplitude, amplitude);
        if (!reading->filter_refused) out.filter_odds.add(reading->filter, filter);
        if (std::getenv("STRIKE_LIST") != nullptr &&
            (likeliest(reading->amplitude) != amplitude || likeliest(reading->filter) != filter)) {
            list(events[e].name, *reading, s, voice);
        }
    }
}

void print_header(const char* name) {
    std::printf("  %-18s %5s %8s %8s %9s %10s %9s\n", name, "n", "refused", "wrong %", "decided %",
                "dec.wrong%", "swapped %");
}

table judge_voices(std::uint64_t seed, int voices, plan p, interval_kind kind) {
    table out;
    std::mt19937_64 random{seed};
    for (int i = 0; i < voices; ++i) {
        synthetic_voice voice;
        const setting s = draw_setting(random, p, kind, voice);
        judge_voice(out, voice, s, random);
    }
    return out;
}

/// How small a fall of the level still tells a strike: 3 s of decay, 70 dB above the noise, 1
/// semitone.
void run_small_falls(std::uint64_t seed, int voices) {
    const table out = judge_voices(seed, voices, plan::small_fall, interval_kind::semitone);
    std::printf(
        "\nseed %llu, 1 semitone, amplitude by the fall of its level within the wait, all events\n",
        static_cast<unsigned long long>(seed));
    print_header("amplitude");
    for (std::size_t i = 0; i < out.by_fall.size(); ++i) print(fall_names[i], out.by_fall[i]);
}

void run(std::uint64_t seed, int voices, plan p, interval_kind kind) {
    const table out = judge_voices(seed, voices, p, kind);
    std::printf(
        "\nseed %llu, %s, %s\n", static_cast<unsigned long long>(seed),
        kind == interval_kind::semitone ? "steps of 1 semitone" : "steps of 7 and 12 semitones",
        p == plan::short_wait ? "wait 0.3-0.5 s against an amplitude decay of 3-4 s"
                              : "wait for a fall of 8 dB, 0.12 to 1.5 s");
    std::printf("  %d steps, %d refused whole; %.2f ms of CPU each, %.2f ms per second of sound\n",
                out.n, out.failed, 1e3 * out.cpu_s / out.n, 1e3 * out.cpu_s / (3.0 * out.sound_s));
    const std::array<std::pair<const char*, const std::array<tally, events.size()>*>, 3> parts{
        {{"amplitude", &out.amplitude},
         {"filter", &out.filter},
         {"filter, contrast >= 0.5", &out.filter_clear}}};
    for (const auto& [name, rows] : parts) {
        print_header(name);
        for (std::size_t e = 0; e < events.size(); ++e) print(events[e].name, (*rows)[e]);
    }
    out.amplitude_odds.print("amplitude");
    out.filter_odds.print("filter");
}

}  // namespace

int main(int argc, char** argv) {
    const int voices = argc > 1 ? std::stoi(argv[1]) : 300;
    std::vector<std::uint64_t> seeds;
    for (int i = 2; i < argc; ++i) seeds.push_back(std::stoull(argv[i]));
    if (seeds.empty()) seeds = {1};
    for (const auto seed : seeds) {
        for (const auto kind : {interval_kind::semitone, interval_kind::wide}) {
            run(seed, voices, plan::searched_wait, kind);
            run(seed, voices, plan::short_wait, kind);
        }
        run_small_falls(seed, voices);
    }
    return 0;
}
