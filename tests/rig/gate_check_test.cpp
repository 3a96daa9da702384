#include "rig/checks/gate.hpp"

#include <catch2/catch.hpp>

#include <cmath>

#include "demo/specimen.hpp"
#include "demo/trigger.hpp"
#include "rig/checks/gate_readings.hpp"
#include "tests/rig/gate_timing_fixture.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

TEST_CASE("gate check: what was built into the module is what is read, at every rate",
          "[checks][gate]") {
    const double rate = GENERATE(44100.0, 48000.0, 96000.0, 192000.0);
    const unsigned unit = rate == 48000.0 ? 5U : 2U;
    CAPTURE(rate);
    const auto r = judged_by("gate", unit, "", rate);
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.attempts == 1);
    CHECK(r.plots.size() == 2);
    const double trip = ferrule::make_specimen(unit).gate_trip_volts;
    const double hysteresis = ferrule::trigger::hysteresis_volts;
    struct row {
        const char* key;
        double built_in;
    };
    for (const auto& [key, built_in] :
         {row{"threshold up", trip}, row{"threshold down", trip - hysteresis},
          row{"hysteresis", hysteresis}}) {
        const auto& f = found(r, key);
        REQUIRE(f.measured);
        CAPTURE(key);
        // Three standard uncertainties: sixteen readings are compared here.
        CHECK_THAT(f.measured->value, WithinAbs(built_in, 3.0 * f.measured->standard_uncertainty));
        CHECK(f.measured->largest() != nullptr);
    }
    CHECK(found(r, "slow edge strikes").all.size() == 4);
    CHECK(found(r, "fast gates missed").measured->value == 0.0);
    CHECK(found(r, "fast gates struck twice").measured->value == 0.0);
    // One block of 24 samples is surely seen, half of it is not; the widths tried are 1, 0.5 and
    // 0.25 ms.
    const auto& shortest = *found(r, "shortest trigger").measured;
    CHECK(shortest.value + 2.0 * shortest.standard_uncertainty >= 23.0 / rate);
    CHECK(shortest.value - 2.0 * shortest.standard_uncertainty <= 25.0 / rate);
}

TEST_CASE("gate check: each fault fails the demand that is about it", "[checks][gate]") {
    struct row {
        const char* fault;
        const char* key;
    };
    const auto r = GENERATE(
        row{"gate-threshold:1", "threshold up"}, row{"gate-hysteresis-less:80", "hysteresis"},
        row{"gate-hysteresis-less:100", "slow edge strikes"},
        row{"gate-edge-noise:0.2", "slow edge strikes"}, row{"gate-poll:4", "shortest trigger"},
        row{"gate-debounced:12", "fast gates missed"}, row{"gate-stuck:15", "fast gates missed"});
    CAPTURE(r.fault, r.key);
    // Gates that are never high for long enough leave nothing to hear, which proves nothing.
    const auto result = judged_by("gate", 4, r.fault);
    const auto& f = found(result, r.key);
    if (std::string{r.fault} == "gate-debounced:12")
        CHECK(f.outcome == verdict::unsure);
    else
        CHECK(f.outcome == verdict::fail);
}

TEST_CASE("gate check: silence and hiss leave every demand open or failed, never passed",
          "[checks][gate]") {
    const double hiss = GENERATE(0.0, 0.05);
    deaf_link nothing{hiss};
    const auto r = judged_by("gate", nothing);
    CHECK(r.findings.size() == 7);
    for (const auto& f : r.findings) {
        CAPTURE(f.name);
        CHECK(f.outcome == verdict::unsure);
        CHECK_FALSE(f.reason.empty());
    }
}

namespace {

/// The demo module, of whose last 25 gates (the fast ones) it hears one not at all and another twice.
class meddled_gates : public cvrig::link {
public:
    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        stimulus changed = sent;
        const auto jack = std::ranges::find(changed.jacks, "gate") - changed.jacks.begin();
        auto& gate = changed.volts.at(static_cast<std::size_t>(jack));
        std::vector<std::size_t> rises;
        for (std::size_t i = 1; i < gate.size(); ++i)
            if (gate[i] > 2.5F && gate[i - 1] <= 2.5F) rises.push_back(i);
        const auto rest = [&](std::size_t from, double ms_from, double ms_to) {
            const auto at = [&](double ms) {
                return gate.begin() + static_cast<std::ptrdiff_t>(from) +
                       std::lround(1e-3 * ms * sent.rate.value());
            };
            std::fill(at(ms_from), at(ms_to), 0.0F);
        };
        rest(rises.at(rises.size() - 25 + 6), 0.0, 15.0);  // the 7th
        rest(rises.at(rises.size() - 25 + 16), 3.0, 6.5);  // the 17th
        auto back = module_.play(changed, choice, number, attempt);
        back.sent = sent;
        return back;
    }
    [[nodiscard]] std::string description() const override { return "meddled gates"; }

private:
    ferrule_link module_{3, ""};
};

}  // namespace

TEST_CASE("gate check: a gate that strikes twice does not pay for one that is missed",
          "[checks][gate]") {
    meddled_gates meddled;
    const auto r = judged_by("gate", meddled);
    for (const auto& [key, at] : {std::pair{"fast gates missed", "gate 7 of 25"},
                                  std::pair{"fast gates struck twice", "gate 17 of 25"}}) {
        const auto& f = found(r, key);
        CAPTURE(key, f.reason);
        CHECK(f.outcome == verdict::fail);
        REQUIRE(f.measured);
        CHECK(f.measured->value == 1.0);
        CHECK(f.measured->at == at);
    }
}

TEST_CASE("gate check: notes an octave off are not taken for double strikes", "[checks][gate]") {
    const auto r = judged_by("gate", 1, "pitch-octave:1");
    CHECK(found(r, "fast gates missed").outcome == verdict::pass);
    CHECK(found(r, "fast gates struck twice").outcome == verdict::pass);
}

TEST_CASE("gate check: how many triggers prove that none is missed", "[checks][gate]") {
    // 0.02275^(1/36) = 0.9003: 36 of 36 prove nine tenths with k = 2 (Clopper-Pearson, by algebra).
    const auto hits = [](double width_ms, unsigned struck) {
        return trigger_hits{seconds{1e-3 * width_ms}, struck, 36,
                            *analysis::clopper_pearson(struck, 36, std::erf(std::sqrt(2.0)))};
    };
    const auto good = bracket_of(std::vector{hits(4, 36), hits(2, 36), hits(1, 35), hits(0.5, 18)});
    CHECK_THAT(good.struck_s, WithinAbs(2e-3, 1e-12));
    CHECK_THAT(good.missed_s, WithinAbs(0.5e-3, 1e-12));
    const auto poor = bracket_of(std::vector{hits(4, 20), hits(2, 10), hits(1, 5), hits(0.5, 0)});
    CHECK_THAT(poor.missed_s, WithinAbs(4e-3, 1e-12));
    CHECK_THAT(poor.struck_s, WithinAbs(8e-3, 1e-12));
    // With few triggers nothing is proven either way.
    const trigger_hits few{2_ms, 10, 10, *analysis::clopper_pearson(10, 10, 0.9545)};
    CHECK(bracket_of(std::vector{few}).struck_s > 2e-3);
    CHECK(bracket_of(std::vector{few}).missed_s == 0.0);
}

TEST_CASE("gate check: it stays within its share of sound", "[checks][gate]") {
    const auto module = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    const auto desk = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    const auto& wanted = *std::ranges::find(module.checks, "gate", &check_expectation::name);
    double length_s = 0.0;
    for (const auto& p : gate_check().plan({module, desk, wanted, wanted.in.front(), 1}))
        for (const auto& s : p.steps) length_s += s.length.value();
    CHECK(length_s < 10.0);
}
