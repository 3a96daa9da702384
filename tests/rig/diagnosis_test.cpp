#include "rig/diagnosis/diagnosis.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <functional>

#include "rig/diagnosis/evidence.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

finding failing(const std::string& name, std::vector<reading> all, limit allowed) {
    finding f;
    f.name = name;
    f.all = std::move(all);
    if (!f.all.empty()) f.measured = f.all.front();
    f.allowed = std::move(allowed);
    f.outcome = verdict::fail;
    return f;
}

check_result failed_check(const std::string& name, std::vector<finding> findings) {
    check_result r;
    r.check = name;
    r.findings = std::move(findings);
    return r;
}

using error_law = std::function<double(double volts_there, bool upward, std::size_t index)>;

/// A stair from 0 V to 4 V and back by whole tones, off by a law and by a little that has no law.
check_result stair(const error_law& error_cents) {
    std::vector<reading> all;
    const auto add = [&](int i, bool upward) {
        const double v = i / 6.0;
        const double rough = 0.3 * std::sin(12.9898 * static_cast<double>(all.size()));
        reading r{error_cents(v, upward, all.size()) + rough, dimension::cents, 0.2, {}, ""};
        r.where = v;
        all.push_back(r);
    };
    for (int i = 0; i <= 24; ++i) add(i, true);
    for (int i = 24; i >= 0; --i) add(i, false);
    return failed_check("tracking", {failing("error", all, between(-5.0, 5.0, dimension::cents))});
}

diagnosis said_of(std::vector<check_result> results) {
    diagnose(results, simple_expectations());
    REQUIRE(results.front().likeliest);
    return *results.front().likeliest;
}

check_result slides(const std::vector<std::pair<double, double>>& octaves_and_ms) {
    std::vector<reading> all;
    for (const auto& [octaves, ms] : octaves_and_ms) {
        reading r{1e-3 * ms, dimension::seconds, 1e-5, {}, "a slide"};
        r.where = octaves;
        all.push_back(r);
    }
    auto allowed = between(0.0198, 0.0242, dimension::seconds);
    allowed.nominal = 0.022;
    return failed_check("slide", {failing("time constant", all, allowed)});
}

}  // namespace

TEST_CASE("diagnosis: each law of a stair's errors is named", "[rig][diagnosis]") {
    const auto x = [](double v) { return v - simple_expectations().pitch.at.value(); };
    struct law {
        const char* cause;
        error_law error;
    };
    const std::array laws{
        law{"pitch offset", [](double, bool, std::size_t) { return 9.0; }},
        law{"pitch slope", [&](double v, bool, std::size_t) { return 3.0 * x(v); }},
        law{"offset and slope", [&](double v, bool, std::size_t) { return 3.0 * x(v) - 14.0; }},
        law{"knee", [](double v, bool, std::size_t) { return v > 2.0 ? 8.0 * (v - 2.0) : 0.0; }},
        law{"jump", [](double v, bool, std::size_t) { return v > 2.9 ? 12.0 : 0.0; }},
        law{"octave", [](double v, bool, std::size_t) { return v > 2.9 ? -1200.0 : 0.0; }},
        law{"top clipped",
            [](double v, bool, std::size_t) { return v > 3.4 ? -1200.0 * (v - 3.4) : 0.0; }},
        law{"bottom clipped",
            [](double v, bool, std::size_t) { return v < 0.5 ? 1200.0 * (0.5 - v) : 0.0; }},
        law{"hysteresis",
            // The second note at the top does not move, so it keeps the lag of the way up.
            [](double, bool up, std::size_t i) { return up || i == 25 ? -8.0 : 8.0; }},
        law{"drift", [](double, bool, std::size_t i) { return 0.3 * static_cast<double>(i); }},
        law{"steps of the converter",
            [](double v, bool, std::size_t) {
                return 23.0 * std::round(1200.0 * v / 23.0) - 1200.0 * v;
            }},
        law{"old pitch kept",
            [](double, bool up, std::size_t i) {
                return i % 7 == 3 ? (up ? -200.0 : 200.0) : 0.0;
            }},
    };
    for (const auto& l : laws) {
        const auto d = said_of({stair(l.error)});
        INFO(d.sentence);
        CHECK(d.cause == l.cause);
    }
}

TEST_CASE("diagnosis: where nothing fits, that is said", "[rig][diagnosis]") {
    const auto d = said_of({stair([](double, bool, std::size_t i) {
        return 40.0 * std::sin(78.233 * static_cast<double>(i * i));
    })});
    CHECK(d.cause == no_typical_pattern);
    CHECK_THAT(d.sentence, Contains("No typical pattern"));
}

TEST_CASE("diagnosis: the evidence is in the sentence", "[rig][diagnosis]") {
    CHECK_THAT(said_of({stair([](double, bool, std::size_t) { return 9.0; })}).sentence,
               Contains("Offset only") && Contains("+9"));
    CHECK_THAT(
        said_of({stair([](double v, bool, std::size_t) { return v > 2.9 ? 12.0 : 0.0; })}).sentence,
        Contains("+12"));
}

TEST_CASE("diagnosis: pitch and slides off by one ratio are the sample rate", "[rig][diagnosis]") {
    const double ratio = 1.02;
    const auto sharp = stair([&](double, bool, std::size_t) { return 1200.0 * std::log2(ratio); });
    const double ms = 22.0 / ratio;
    auto fast = slides({{1.0, ms}, {-1.0, ms}, {0.083, ms}});
    CHECK(said_of({sharp, fast}).cause == "sample rate");
    CHECK(said_of({fast, sharp}).cause == "sample rate");
    // The same pitch with slides that keep their time is an offset.
    CHECK(said_of({sharp, slides({{1.0, 22.0}, {-1.0, 22.0}})}).cause == "pitch offset");
}

TEST_CASE("diagnosis: slide times tell what they depend on", "[rig][diagnosis]") {
    CHECK(said_of({slides({{1.0, 29.0}, {-1.0, 29.1}, {0.083, 28.9}})}).cause == "slide time");
    CHECK(said_of({slides({{1.0, 22.0}, {-1.0, 22.1}, {0.083, 14.0}})}).cause ==
          "slide time by interval");
    CHECK(said_of({slides({{1.0, 176.0}, {-1.0, 175.0}, {0.083, 177.0}})}).cause == "power of two");
    CHECK(said_of({slides({{1.0, 1.0}, {-1.0, 0.5}, {0.083, 0.2}})}).cause == "no slide");
}

TEST_CASE("diagnosis: what passed or was unsure gets none", "[rig][diagnosis]") {
    auto fine = stair([](double, bool, std::size_t) { return 0.0; });
    fine.findings.front().outcome = verdict::pass;
    auto unsure = fine;
    unsure.findings.front().outcome = verdict::unsure;
    std::vector<check_result> both{fine, unsure};
    diagnose(both, simple_expectations());
    CHECK_FALSE(both[0].likeliest);
    CHECK_FALSE(both[1].likeliest);
}

TEST_CASE("diagnosis: what another check's cause explains wholly is said to follow from it",
          "[rig][diagnosis]") {
    const auto slow = slides({{1.0, 176.0}, {-1.0, 175.0}, {0.083, 177.0}});
    const auto allowed = between(-5.0, 5.0, dimension::cents);
    auto line = failed_check("pattern", {failing("slid pitch", {}, allowed)});
    CHECK(said_of({line, slow}).cause == "power of two");
    CHECK(said_of({line, slow}).follows_from == "slide");
    CHECK_THAT(said_of({line, slow}).sentence, Contains("Follows from slide: every slide"));
    CHECK(said_of({slow, line}).follows_from.empty());

    SECTION("but not if anything is left that it does not explain") {
        line.findings.push_back(failing("accent", {}, allowed));
        CHECK(said_of({line, slow}).follows_from.empty());
    }
    SECTION("nor from another mode, if its own has none of it") {
        line.choice = {{"mode", "struck"}};
        auto here = slow;
        here.choice = line.choice;
        for (auto& f : here.findings) f.outcome = verdict::pass;
        auto there = slow;
        there.choice = {{"mode", "wide"}};
        CHECK(said_of({line, there}).follows_from == "slide");
        CHECK(said_of({line, there, here}).follows_from.empty());
        CHECK(said_of({line, here, there}).follows_from.empty());
    }
}
