#include "rig/checks/range.hpp"

#include <fmt/format.h>
#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <complex>
#include <functional>
#include <numbers>
#include <random>

#include "demo/modes.hpp"
#include "demo/specimen.hpp"
#include "rig/run/runner.hpp"
#include "tests/matrix/ferrule_link.hpp"
#include "tests/support/ferrule_filter.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using cvrig::testing::ferrule_link;
using cvrig::testing::true_cutoff;

namespace {

struct demo_files {
    module_expectations module;
    bench desk;
};

demo_files demo() {
    const auto specs = all_specs();
    return {read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", specs),
            read_bench(CVRIG_DEMO "/desk.bench.yaml")};
}

/// What a module answers is replaced by something else.
class replaced : public cvrig::link {
public:
    explicit replaced(std::function<float(std::size_t)> by) : by_{std::move(by)} {}
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        ++plays;
        auto back = begin_take(sent, choice, number, attempt);
        back.heard_jacks = {"left", "right"};
        back.heard.assign(2, std::vector<float>(sent.size()));
        for (auto& jack : back.heard)
            for (std::size_t i = 0; i < jack.size(); ++i) jack[i] = by_(i);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "something else"; }

    int plays{0};

private:
    std::function<float(std::size_t)> by_;
};

/// What it is told while the gate is high, note by note.
class note_player : public cvrig::link {
public:
    /// Of the first note (1), so long after the take's beginning and after the strike.
    using note_sound = std::function<double(std::size_t note, double at_s, double since_s)>;
    explicit note_player(note_sound sample) : sample_{std::move(sample)} {}
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        auto back = begin_take(sent, choice, number, attempt);
        back.heard_jacks = {"left", "right"};
        const auto jack = std::ranges::find(sent.jacks, "gate") - sent.jacks.begin();
        const auto& gate = sent.volts[static_cast<std::size_t>(jack)];
        std::vector<float> sound(sent.size());
        std::size_t notes = 0, struck = 0;
        for (std::size_t i = 1; i < sound.size(); ++i) {
            if (gate[i] <= 2.0F) continue;
            if (gate[i - 1] <= 2.0F) {
                ++notes;
                struck = i;
            }
            sound[i] =
                static_cast<float>(sample_(notes, static_cast<double>(i) / sent.rate.value(),
                                           static_cast<double>(i - struck) / sent.rate.value()));
        }
        back.heard.assign(2, sound);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "notes"; }

private:
    note_sound sample_;
};

constexpr double two_pi = 2.0 * std::numbers::pi;

/// A sine of one pitch after the other.
note_player sine_player(std::vector<double> pitches_hz) {
    return note_player{[pitches_hz](std::size_t note, double, double since_s) {
        return 2.0 * std::sin(two_pi * pitches_hz[std::min(note, pitches_hz.size()) - 1] * since_s);
    }};
}

/// Six harmonics of a sawtooth, and a filter that rings on from each strike at a pitch of its own and in
/// another phase each time. Something happens to the third note.
note_player ringing_player(double rings_volts,
                           std::function<double(double sample, double since_s)> to_third) {
    return note_player{[rings_volts, to_third](std::size_t note, double at_s, double since_s) {
        double sample = rings_volts * std::exp(-since_s / 0.15) *
                        std::sin(two_pi * 712.0 * since_s + 1.9 * static_cast<double>(note));
        for (int n = 1; n <= 6; ++n) sample += std::sin(two_pi * 130.8128 * n * at_s) / n;
        return note == 3 ? to_third(sample, since_s) : sample;
    }};
}

/// A sawtooth through four equal poles that jack "cutoff" moves by an octave a volt from 100 Hz, and that
/// no envelope moves.
class open_filter : public cvrig::link {
public:
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        auto back = begin_take(sent, choice, number, attempt);
        back.heard_jacks = {"left", "right"};
        const auto volts_at = [&](const char* jack) -> const std::vector<float>& {
            const auto at = std::ranges::find(sent.jacks, jack) - sent.jacks.begin();
            return sent.volts[static_cast<std::size_t>(at)];
        };
        const auto& cutoff = volts_at("cutoff");
        const auto& gate = volts_at("gate");
        std::vector<float> sound(sent.size());
        for (int k = 1; k * pitch_hz < 18000.0; ++k) {
            const auto turn =
                std::polar(1.0, 2.0 * std::numbers::pi * k * pitch_hz / sent.rate.value());
            std::complex<double> now{0.0, -1.0};
            double level = 0.0;
            for (std::size_t i = 0; i < sound.size(); ++i, now *= turn) {
                if (i % 64 == 0) {
                    const double x = k * pitch_hz / (100.0 * std::exp2(cutoff[i]));
                    level = std::pow(1.0 + x * x, -2.0) / k;
                }
                if (gate[i] > 2.0F) sound[i] += static_cast<float>(level * now.real());
            }
        }
        back.heard.assign(2, sound);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "a filter at rest"; }

    static constexpr double pitch_hz = 65.40639132514966;
};

std::vector<check_result> judged(cvrig::link& to_module, const run_filter& filter,
                                 double rate = 48000.0) {
    auto f = demo();
    f.desk.program.rate = sample_rate{rate};
    return run(plan_run(f.module, f.desk, filter), to_module, f.module, f.desk, {}).checks;
}

std::vector<check_result> judged(unsigned unit, const std::string& fault, const std::string& check,
                                 double rate = 48000.0,
                                 std::map<std::string, std::string> settings = {}) {
    ferrule_link to_module{unit, fault};
    return judged(to_module, {.checks = {check}, .settings = std::move(settings)}, rate);
}

check_result range_in(const std::string& mode, unsigned unit, const std::string& fault,
                      double rate = 48000.0) {
    auto all = judged(unit, fault, "range", rate, {{"mode", mode}});
    REQUIRE(all.size() == 1);
    return std::move(all.front());
}

const finding& find(const check_result& r, const std::string& key) {
    const auto* found = r.find(key);
    if (found == nullptr) throw std::runtime_error{"no finding for " + key};
    return *found;
}

const finding& find(const std::vector<check_result>& all, const std::string& key) {
    for (const auto& r : all)
        if (const auto* found = r.find(key)) return *found;
    throw std::runtime_error{"no finding for " + key};
}

verdict worst_of(const std::vector<check_result>& all) {
    verdict out = verdict::pass;
    for (const auto& r : all) out = worse(out, r.outcome());
    return out;
}

/// A unit's decay: its converter reads the jack's volts a little wrong.
double decay_at(double jack_volts, ferrule::mode mode, unsigned unit) {
    const auto ranges = ferrule::ranges_of(mode);
    const auto made = ferrule::make_specimen(unit);
    const double read = jack_volts * made.decay.gain + made.decay.offset_volts;
    return ranges.decay_shortest_seconds *
           std::pow(ranges.decay_longest_seconds / ranges.decay_shortest_seconds, read / 5.0);
}

}  // namespace

TEST_CASE("range check: what was built into the module is what is read, in every mode",
          "[checks][range]") {
    const auto mode = GENERATE(ferrule::mode::tied, ferrule::mode::struck, ferrule::mode::wide);
    const unsigned unit = GENERATE(1U, 6U, 25U);
    const std::string name = mode == ferrule::mode::tied     ? "tied"
                             : mode == ferrule::mode::struck ? "struck"
                                                             : "wide";
    CAPTURE(name, unit);
    const auto r = range_in(name, unit, "");
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.attempts == 1);
    const auto built_in = ferrule::ranges_of(mode);
    const auto near = [&](const char* key, double truth) {
        CAPTURE(key);
        const auto& f = find(r, key);
        REQUIRE(f.measured);
        CHECK_THAT(f.measured->value, WithinAbs(truth, 3.0 * f.measured->standard_uncertainty));
        CHECK(f.measured->standard_uncertainty < 0.05 * truth);
    };
    near("smallest cutoff", true_cutoff(mode, unit, 0.3, 0.0, 48000.0));
    near("largest cutoff", true_cutoff(mode, unit, 0.3, 5.0, 48000.0));
    near("shortest decay", decay_at(0.0, mode, unit));
    near("longest decay", decay_at(5.0, mode, unit));
    // The bilinear transform bends the line a little at its top.
    CHECK_THAT(find(r, "octaves per volt").measured->value,
               WithinRel(built_in.cutoff_octaves_per_volt, 0.015));
    CHECK_THAT(find(r, "dead zone").measured->value, WithinAbs(0.0, 1.5));
}

TEST_CASE("range check: each fault fails the demand that is about it", "[checks][range]") {
    struct row {
        const char* fault;
        const char* key;
    };
    const auto r = GENERATE(
        row{"cutoff-dead-zone:10", "dead zone"}, row{"cutoff-range:15", "octaves per volt"},
        row{"cutoff-range:15", "largest cutoff"}, row{"cutoff-not-monotonic:1", "cutoff rises"});
    CAPTURE(r.fault, r.key);
    CHECK(find(range_in("tied", 3, r.fault), r.key).outcome == verdict::fail);
}

TEST_CASE(
    "range check: a level between two steps of the converter is heard elsewhere the next time",
    "[checks][range]") {
    // On this unit noise throws one level of the cutoff to and fro while it is heard.
    const auto r = range_in("tied", 68, "cutoff-steps:0.025");
    CHECK(r.attempts == 2);
    CHECK(r.outcome() == verdict::pass);
    // The next stair has two levels more, so that those between lie elsewhere.
    REQUIRE_FALSE(r.plots.empty());
    CHECK(r.plots.front().curves.front().x.size() == 23);
}

TEST_CASE("range check: an end that cannot be read leaves in doubt what hangs on it, and no more",
          "[checks][range]") {
    // On this unit it is the level of 0 V that flickers.
    const std::string mode = GENERATE("tied", "struck", "wide");
    CAPTURE(mode);
    const auto r = range_in(mode, 56, "cutoff-steps:0.025");
    REQUIRE_FALSE(r.plots.empty());
    CHECK(r.plots.front().curves.front().x.front() > 0.1);
    for (const char* key : {"smallest cutoff", "dead zone", "cutoff rises"}) {
        CAPTURE(key);
        CHECK(find(r, key).outcome == verdict::unsure);
    }
    CHECK_THAT(find(r, "cutoff rises").reason, Catch::Matchers::Contains("at 0 V"));
    for (const char* key : {"octaves per volt", "largest cutoff", "shortest decay"}) {
        CAPTURE(key);
        CHECK(find(r, key).outcome == verdict::pass);
    }
}

TEST_CASE("range check: a module without a decay jack has a cutoff all the same",
          "[checks][range]") {
    auto f = demo();
    std::erase_if(f.module.drive, [](const driven_jack& j) { return j.name == "decay"; });
    std::erase_if(f.module.checks, [](const check_expectation& c) { return c.name != "range"; });
    for (auto& c : f.module.checks)
        std::erase_if(c.keys, [](const auto& k) { return k.first.ends_with("decay"); });
    ferrule_link to_module{3, ""};
    const auto all = run(plan_run(f.module, f.desk, {.checks = {"range"}, .settings = {}}),
                         to_module, f.module, f.desk, {})
                         .checks;
    REQUIRE_FALSE(all.empty());
    CHECK(find(all, "smallest cutoff").outcome == verdict::pass);
    CHECK(find(all, "octaves per volt").outcome == verdict::pass);
}

TEST_CASE("range check: a filter that no envelope moves is read where it is", "[checks][range]") {
    open_filter to_module;
    const auto all = judged(to_module, {.checks = {"range"}, .settings = {{"mode", "tied"}}});
    REQUIRE(all.size() == 1);
    // n equal poles: f sqrt(2^(1/n) - 1) (W.-K. Chen (ed.), "The Circuits and Filters Handbook", from
    // memory); n = 4.
    const double half_power = std::sqrt(std::pow(2.0, 0.25) - 1.0);
    const auto& lowest = find(all, "smallest cutoff");
    REQUIRE(lowest.measured);
    CHECK_THAT(lowest.measured->value,
               WithinAbs(100.0 * half_power, 3.0 * lowest.measured->standard_uncertainty));
    CHECK(lowest.measured->standard_uncertainty < 0.01 * 100.0 * half_power);
    CHECK_THAT(find(all, "octaves per volt").measured->value, WithinAbs(1.0, 0.01));
    CHECK(find(all, "shortest decay").outcome == verdict::unsure);
    // What the note cannot tell of an envelope is part of what it leaves open.
    const auto& budget = lowest.measured->budget;
    const auto rest =
        std::ranges::find(budget, "rest of the filter's envelope", &analysis::contribution::name);
    REQUIRE(rest != budget.end());
    CHECK(rest->standard_uncertainty > 0.0);
}

TEST_CASE("range check: the dead zone is read as wide as it is", "[checks][range]") {
    const double percent = GENERATE(8.0, 12.0, 30.0);
    const auto r = range_in("wide", 2, fmt::format("cutoff-dead-zone:{}", percent));
    const auto& f = find(r, "dead zone");
    REQUIRE(f.measured);
    CHECK_THAT(f.measured->value, WithinAbs(percent, 1.0));
}

TEST_CASE("range check: every sample rate reads the same module the same", "[checks][range]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    CAPTURE(rate);
    const auto r = range_in("wide", 4, "", rate);
    CHECK(r.outcome() == verdict::pass);
    const auto near = [&](const char* key, double truth) {
        CAPTURE(key);
        const auto& f = find(r, key);
        REQUIRE(f.measured);
        CHECK_THAT(f.measured->value, WithinAbs(truth, 3.0 * f.measured->standard_uncertainty));
    };
    // At each rate the module's own filter is a little another one.
    near("smallest cutoff", true_cutoff(ferrule::mode::wide, 4, 0.3, 0.0, rate));
    near("largest cutoff", true_cutoff(ferrule::mode::wide, 4, 0.3, 5.0, rate));
    near("shortest decay", decay_at(0.0, ferrule::mode::wide, 4));
    near("longest decay", decay_at(5.0, ferrule::mode::wide, 4));
}

TEST_CASE("range check: silence and noise never pass", "[checks][range]") {
    unsigned long long state = 1;
    const auto hiss = [&state](std::size_t) {
        state = state * 6364136223846793005ULL + 1442695040888963407ULL;
        return static_cast<float>(static_cast<double>(state >> 40) / 16777216.0 - 0.5);
    };
    const bool silent = GENERATE(true, false);
    CAPTURE(silent);
    for (const std::string check :
         {"range", "slide range", "knob and jack", "unplugged", "extremes"}) {
        CAPTURE(check);
        replaced nothing{silent
                             ? std::function<float(std::size_t)>{[](std::size_t) { return 0.0F; }}
                             : std::function<float(std::size_t)>{hiss}};
        const auto all = judged(nothing, {.checks = {check}, .settings = {}});
        REQUIRE_FALSE(all.empty());
        for (const auto& r : all)
            for (const auto& f : r.findings) {
                CAPTURE(f.name);
                CHECK(f.outcome != verdict::pass);
                CHECK_FALSE(f.reason.empty());
            }
    }
}

TEST_CASE("slide range check: each position has its own time", "[checks][range]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0);
    CAPTURE(rate);
    const auto all = judged(3, "", "slide range", rate);
    REQUIRE(all.size() == 2);
    CHECK(worst_of(all) == verdict::pass);
    const std::vector<double> built_in{0.022, 0.2};
    for (std::size_t i = 0; i < 2; ++i) {
        const auto& f = find(all[i], "slide time");
        REQUIRE(f.measured);
        // Time passes in blocks of half a millisecond.
        CHECK_THAT(f.measured->value, WithinRel(built_in[i], 0.01));
    }
    CHECK(worst_of(judged(3, "slide-time:30", "slide range")) == verdict::fail);
}

TEST_CASE("knob and jack check: they add up, or the sum says that they do not", "[checks][range]") {
    const auto good = judged(5, "", "knob and jack");
    CHECK(worst_of(good) == verdict::pass);
    REQUIRE(good.size() == 1);
    CHECK_THAT(find(good, "knob is worth").measured->value, WithinAbs(2.5, 0.05));
    CHECK_THAT(find(good, "adds up").measured->value, WithinAbs(0.0, 2.0));
    const auto replaced_knob = judged(5, "knob-jack-replace:100", "knob and jack");
    CHECK(find(replaced_knob, "knob is worth").outcome == verdict::pass);
    CHECK(find(replaced_knob, "adds up").outcome == verdict::fail);
}

TEST_CASE("knob and jack check: each mode is compared with itself alone", "[checks][range]") {
    auto f = demo();
    auto& wanted = *std::ranges::find(f.module.checks, "knob and jack", &check_expectation::name);
    // What the file would say: in: {mode: [tied, wide], cutoff knob: [down, half]}.
    const auto wide = wanted.in;
    wanted.in.clear();
    for (const char* mode : {"tied", "wide"})
        for (auto choice : wide) {
            choice["mode"] = mode;
            wanted.in.push_back(choice);
        }
    keyed_value knob;
    knob.otherwise = setting_name{"cutoff knob"};
    wanted.keys["knob"] = knob;
    ferrule_link to_module{5, ""};
    const auto judged_with = [&](std::map<std::string, std::string> settings) {
        const run_filter filter{.checks = {"knob and jack"}, .settings = std::move(settings)};
        return run(plan_run(f.module, f.desk, filter), to_module, f.module, f.desk, {}).checks;
    };
    const auto all = judged_with({});
    REQUIRE(all.size() == 2);
    for (const auto& r : all) {
        CAPTURE(in_words(r.choice));
        CHECK(r.choice.at("cutoff knob") == "half");
        CHECK(r.outcome() == verdict::pass);
        CHECK_THAT(find(r, "knob is worth").measured->value, WithinAbs(2.5, 0.1));
    }
    CHECK(all[0].choice.at("mode") == "tied");
    CHECK(all[1].choice.at("mode") == "wide");
    // What is to be compared with was not played: nothing is made up.
    const auto half = judged_with({{"cutoff knob", "half"}});
    REQUIRE(half.size() == 2);
    for (const auto& r : half) {
        REQUIRE(r.findings.size() == 2);
        CHECK(r.outcome() == verdict::skipped);
        CHECK(r.findings.front().reason ==
              "It is compared with cutoff knob down, which was not played.");
    }
}

TEST_CASE("knob and jack check: one choice alone compares nothing", "[checks][range]") {
    const auto all = judged(5, "", "knob and jack", 48000.0, {{"cutoff knob", "down"}});
    REQUIRE(all.size() == 1);
    CHECK(all.front().outcome() == verdict::skipped);
}

TEST_CASE("unplugged check: a jack without cable is 0 V, or is read as what it is",
          "[checks][range]") {
    const auto good = judged(5, "", "unplugged");
    CHECK(worst_of(good) == verdict::pass);
    CHECK_THAT(find(good, "reads as").measured->value, WithinAbs(0.0, 0.03));
    const auto floats = judged(5, "unplugged-floats:0.8", "unplugged");
    CHECK(worst_of(floats) == verdict::fail);
    CHECK_THAT(find(floats, "reads as").measured->value, WithinAbs(0.8, 0.03));
    CHECK(worst_of(judged(5, "unplugged-floats:4", "unplugged")) == verdict::fail);
}

TEST_CASE("unplugged check: a pitch that few periods tell wrongly is read from more of them",
          "[checks][range]") {
    // On this unit two and a half periods of the last level read a tenth off.
    auto all = judged(79, "unplugged-floats:0.15", "unplugged", 48000.0,
                      {{"mode", "wide"}, {"waveform", "saw"}});
    CHECK(std::ranges::any_of(all, [](const auto& r) { return r.outcome() == verdict::fail; }));
}

TEST_CASE("extremes check: a filter that dies is found dead", "[checks][range]") {
    const auto good = judged(5, "", "extremes");
    CHECK(worst_of(good) == verdict::pass);
    const auto& level = *find(good, "level afterwards").measured;
    CHECK_THAT(level.value, WithinAbs(0.0, 2.0 * level.standard_uncertainty));
    CHECK(2.0 * level.standard_uncertainty < 0.1);
    const auto dead = judged(5, "filter-dies:1", "extremes");
    CHECK(find(dead, "sound afterwards").outcome == verdict::fail);
    CHECK(find(dead, "level afterwards").outcome == verdict::fail);
}

TEST_CASE(
    "extremes check: what rings at its own pitch from each strike is no part of the note's level",
    "[checks][range]") {
    const double louder_db = GENERATE(0.0, -1.5, 3.0);
    CAPTURE(louder_db);
    const double gain = std::pow(10.0, louder_db / 20.0);
    auto module = ringing_player(2.0, [gain](double sample, double) { return gain * sample; });
    const auto all = judged(module, {.checks = {"extremes"}, .settings = {}});
    CHECK(find(all, "sound afterwards").outcome == verdict::pass);
    const auto& level = *find(all, "level afterwards").measured;
    CHECK_THAT(level.value, WithinAbs(louder_db, 2.0 * level.standard_uncertainty));
    CHECK(2.0 * level.standard_uncertainty < 0.1);
}

TEST_CASE("extremes check: a low note is held long enough for its level to be measured at once",
          "[checks][range]") {
    auto f = demo();
    for (auto& wanted : f.module.checks)
        if (wanted.name == "extremes")
            wanted.keys.insert_or_assign("note",
                                         keyed_value{{}, {}, measure{0.0, dimension::volts}, {}});
    ferrule_link to_module{5, ""};
    const auto all = run(plan_run(f.module, f.desk, {.checks = {"extremes"}, .settings = {}}),
                         to_module, f.module, f.desk, {})
                         .checks;
    REQUIRE(all.size() == 1);
    CHECK(all.front().outcome() == verdict::pass);
    CHECK(all.front().attempts == 1);
}

TEST_CASE("extremes check: noise that stays is no survival, a gap of some milliseconds is no noise",
          "[checks][range]") {
    std::mt19937 random{7};
    std::normal_distribution<double> noise{0.0, 0.03};  // 30 dB below the note
    auto hisses =
        ringing_player(0.0, [&](double sample, double) { return sample + noise(random); });
    auto gapes = ringing_player(0.0, [](double sample, double since_s) {
        return since_s > 0.06 && since_s < 0.063 ? 0.0 : sample;
    });
    const auto outcome = [](cvrig::link& module) {
        const auto all = judged(module, {.checks = {"extremes"}, .settings = {}});
        return find(all, "sound afterwards").outcome;
    };
    CHECK(outcome(hisses) == verdict::fail);
    CHECK(outcome(gapes) == verdict::pass);
}

TEST_CASE("extremes check: a module that comes back an octave too high is no survivor",
          "[checks][range]") {
    const double third =
        GENERATE(261.6256, 130.8128);  // of the third note, after two of 130.8128 Hz
    CAPTURE(third);
    auto module = sine_player({130.8128, 130.8128, third});
    const auto all = judged(module, {.checks = {"extremes"}, .settings = {}});
    CHECK(find(all, "sound afterwards").outcome == (third < 200.0 ? verdict::pass : verdict::fail));
}

TEST_CASE("the demo's whole run, with a pattern of 256 steps, plays for at most 150 s",
          "[checks][plan]") {
    const auto f = demo();
    const auto plan = plan_run(f.module, f.desk);
    CHECK(plan.sound() > seconds{100.0});
    CHECK(plan.sound() <= seconds{150.0});
}

TEST_CASE("range check: all five are played within 14 s of sound", "[checks][range]") {
    const auto f = demo();
    const auto plan =
        plan_run(f.module, f.desk,
                 {.checks = {"range", "slide range", "knob and jack", "unplugged", "extremes"},
                  .settings = {}});
    CHECK(plan.sound() < seconds{14.0});
}
