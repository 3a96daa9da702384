#include <catch2/catch.hpp>

#include <cmath>
#include <numbers>
#include <optional>

#include "tests/coverage/simulated_take.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;

namespace {

constexpr int harmonics = 12;
constexpr double cutoff_at_0_volts_hz = 450.0, noise_volts = 1e-4;

/// How the cutoff follows its voltage.
struct following {
    double looked_every_periods{0.0};  ///< of the tone; 0: at once
    double looks_from{0.0};            ///< the phase of the tone, in turns
    double ripple_octaves{0.0};        ///< a sine on top of it, as often
};

/// A saw behind four poles whose cutoff goes an octave a volt.
class voice {
public:
    voice(const following& what, const passage& asked, double pitch_hz)
        : what_{what}, asked_{asked}, pitch_hz_{pitch_hz} {}

    [[nodiscard]] std::vector<double> sound(std::size_t samples, sample_rate rate) const {
        std::vector<double> out(samples);
        for (std::size_t i = 0; i < samples; ++i)
            out[i] = at(static_cast<double>(i) / rate.value());
        return out;
    }

private:
    [[nodiscard]] double cutoff_volts(double t) const {
        double at = t;
        for (const auto& s : asked_.steps) {
            if (at >= s.length.value()) {
                at -= s.length.value();
                continue;
            }
            const auto from = s.from.find("cutoff");
            if (from == s.from.end()) return s.others.at("cutoff").value();
            const double way = (s.others.at("cutoff") - from->second).value();
            const double period_s = what_.looked_every_periods / pitch_hz_;
            const double first_s = what_.looks_from / pitch_hz_;
            const double turns = (t - first_s) / period_s;
            const double ripple = what_.ripple_octaves * std::sin(2.0 * std::numbers::pi * turns);
            if (what_.ripple_octaves == 0.0) at -= (turns - std::floor(turns)) * period_s;
            return from->second.value() + way * at / s.length.value() + ripple;
        }
        return asked_.steps.back().others.at("cutoff").value();
    }

    [[nodiscard]] double at(double t) const {
        const double cutoff_hz = cutoff_at_0_volts_hz * std::exp2(cutoff_volts(t));
        double sum = 0.0;
        for (int k = 1; k <= harmonics; ++k)
            sum += std::pow(1.0 + std::pow(k * pitch_hz_ / cutoff_hz, 2), -2.0) / k *
                   std::sin(2.0 * std::numbers::pi * k * pitch_hz_ * t);
        return sum;
    }

    const following& what_;
    const passage& asked_;
    double pitch_hz_;
};

struct told_steps {
    finding told;
    double pitch_hz;
};

told_steps steps_of(const following& what, const std::string& key,
                    std::optional<double> most_cents = {}) {
    testing::simulated_desk desk{"clicks", {key}, 4};
    if (most_cents) desk.set(key, testing::between(-1.0, *most_cents, dimension::cents));
    desk.module.drive.push_back({.name = "cutoff",
                                 .is_gate = false,
                                 .low = volts{0.0},
                                 .high = volts{5.0},
                                 .rest = volts{0.0},
                                 .where = {}});
    auto& out = desk.desk.outputs.emplace_back();
    out.jack = "cutoff";
    out.u = volts{0.001};
    double tone_hz = 0.0;
    const auto result = desk.judge(
        [&](const passage& asked, std::size_t samples, sample_rate rate) {
            const double pitch_hz = desk.module.pitch.pitch(asked.steps.back().pitch).value();
            if (!asked.steps.back().from.contains("cutoff"))
                return std::vector<std::vector<double>>(2, std::vector<double>(samples));
            tone_hz = pitch_hz;
            const auto one = voice{what, asked, pitch_hz}.sound(samples, rate);
            return std::vector<std::vector<double>>{one, one};
        },
        noise_volts);
    const auto* found = result.find(key);
    REQUIRE(found != nullptr);
    return {*found, tone_hz};
}

}  // namespace

TEST_CASE("clicks check: steps that beat with the tone, too dense to be seen between, are doubted",
          "[checks][clicks]") {
    const double periods = GENERATE(3.0, 3.5, 4.0);
    const double from = GENERATE(0.0, 0.3, 0.6);
    const auto* key = GENERATE("cutoff steps", "cutoff step rate");
    CAPTURE(periods, from, key);
    const auto f = steps_of({.looked_every_periods = periods, .looks_from = from}, key).told;
    CHECK(f.outcome == verdict::unsure);
    CHECK_FALSE(f.measured);
    CHECK_FALSE(f.reason.empty());
}

TEST_CASE("clicks check: a ripple of the cutoff is no stair", "[checks][clicks]") {
    const double periods = GENERATE(9.3, 20.0, 41.7);
    CAPTURE(periods);
    const auto f =
        steps_of({.looked_every_periods = periods, .ripple_octaves = 0.02}, "cutoff steps").told;
    CHECK(f.outcome == verdict::unsure);
    CHECK(f.reason.find("no stair") != std::string::npos);
}

TEST_CASE("clicks check: what is no stair, but would be harmless if it were thrice as high, may be",
          "[checks][clicks]") {
    const following ripple{.looked_every_periods = 20.0, .ripple_octaves = 0.002};
    // A ripple of 2.4 cents of the cutoff, and less of the brightness, reads as steps pi times as high.
    const auto harmless = steps_of(ripple, "cutoff steps", 30.0).told;
    CHECK(harmless.outcome == verdict::pass);
    REQUIRE(harmless.measured);
    CHECK(harmless.measured->standard_uncertainty >= harmless.measured->value);
    const auto perhaps = steps_of(ripple, "cutoff steps", 2.0 * harmless.measured->value).told;
    CHECK(perhaps.outcome == verdict::unsure);
    CHECK(perhaps.reason.find("no stair") != std::string::npos);
}

TEST_CASE("clicks check: steps that fall evenly into the tone's periods keep their rate",
          "[checks][clicks]") {
    const double from = GENERATE(0.0, 0.3, 0.6);
    CAPTURE(from);
    const auto [f, pitch_hz] =
        steps_of({.looked_every_periods = 10.0, .looks_from = from}, "cutoff step rate");
    REQUIRE(f.measured);
    CHECK_THAT(f.measured->value,
               Catch::Matchers::WithinAbs(pitch_hz / 10.0, 2.0 * f.measured->standard_uncertainty));
}
