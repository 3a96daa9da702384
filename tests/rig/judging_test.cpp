#include "rig/run/judging.hpp"

#include <rapidcheck.h>
#include <catch2/catch.hpp>

using namespace cvrig;

namespace {

limit between(double lower, double upper) {
    limit l;
    l.lower = lower;
    l.upper = upper;
    l.unit = dimension::cents;
    l.text = "a test limit";
    return l;
}

// A request that demands one limit and one word, for any choice.
struct demand {
    module_expectations module;
    bench desk;
    check_expectation wanted;

    demand() {
        module.coverage_factor = 2.0;
        keyed_value error;
        error.otherwise = between(-5.0, 5.0);
        wanted.name = "tracking";
        wanted.keys["error"] = error;
        keyed_value slide;
        slide.otherwise = word{"goes on"};
        wanted.keys["slide"] = slide;
    }
    [[nodiscard]] check_request request() const {
        return {module, desk, wanted, {{"mode", "tied"}}, 1};
    }
};

reading cents_reading(double value, double u, std::string at = {}) {
    return make_reading(value, dimension::cents, {{"estimator", u}}, std::move(at));
}

}  // namespace

TEST_CASE("a reading passes only inside its limits by two standard uncertainties",
          "[run][judging]") {
    // JCGM 106:2012, clause 8: guard band w = U = 2u, here 1 cent about limits of 5 cents.
    const auto limits = between(-5.0, 5.0);
    CHECK(judge(cents_reading(3.9, 0.5), limits, 2.0) == verdict::pass);
    CHECK(judge(cents_reading(4.1, 0.5), limits, 2.0) == verdict::unsure);
    CHECK(judge(cents_reading(5.9, 0.5), limits, 2.0) == verdict::unsure);
    CHECK(judge(cents_reading(6.1, 0.5), limits, 2.0) == verdict::fail);
    CHECK(judge(cents_reading(-6.1, 0.5), limits, 2.0) == verdict::fail);
}

TEST_CASE("a reading that is not a number is never a pass", "[run][judging]") {
    CHECK(judge(cents_reading(NAN, 0.5), between(-5, 5), 2.0) == verdict::unsure);
    CHECK(judge(cents_reading(0.0, NAN), between(-5, 5), 2.0) == verdict::unsure);
}

TEST_CASE("a pass is at least as far inside as any other verdict", "[run][judging]") {
    rc::check("moving towards the middle never turns a pass into something else", [] {
        const double value = *rc::gen::inRange(-1000, 1001) / 100.0;
        const double u = *rc::gen::inRange(0, 300) / 100.0;
        const double shrink = *rc::gen::inRange(0, 101) / 100.0;
        const auto far = judge(cents_reading(value, u), between(-5, 5), 2.0);
        const auto near = judge(cents_reading(value * shrink, u), between(-5, 5), 2.0);
        if (far == verdict::pass) RC_ASSERT(near == verdict::pass);
        if (near == verdict::fail) RC_ASSERT(far == verdict::fail);
    });
}

TEST_CASE("of many readings the worst is shown and decides", "[run][judging]") {
    const demand d;
    const auto request = d.request();
    findings out{request};
    const std::vector<reading> all{cents_reading(1.0, 0.1, "one"), cents_reading(-4.0, 0.1, "two"),
                                   cents_reading(3.0, 0.1, "three")};
    out.add_worst("error", all);
    const auto found = std::move(out).take();
    REQUIRE(found.size() == 1);
    CHECK(found[0].outcome == verdict::pass);
    CHECK(found[0].measured->at == "two");
}

TEST_CASE("one failing note fails the demand even beside doubtful ones", "[run][judging]") {
    const demand d;
    const auto request = d.request();
    findings out{request};
    const std::vector<reading> all{cents_reading(5.0, 2.0, "doubtful"),
                                   cents_reading(7.0, 0.1, "wrong"),
                                   cents_reading(0.0, 0.1, "fine")};
    out.add_worst("error", all);
    const auto found = std::move(out).take();
    REQUIRE(found.size() == 1);
    CHECK(found[0].outcome == verdict::fail);
    CHECK(found[0].measured->at == "wrong");
    CHECK(found[0].reason.find("7 cent") != std::string::npos);
}

TEST_CASE("a demand without any reading is unsure", "[run][judging]") {
    const demand d;
    const auto request = d.request();
    findings out{request};
    out.add_worst("error", {});
    const auto found = std::move(out).take();
    REQUIRE(found.size() == 1);
    CHECK(found[0].outcome == verdict::unsure);
}

TEST_CASE("an answer needs the odds of two standard deviations either way", "[run][judging]") {
    // One-sided coverage of k = 2: Phi(2) = 0.97725 (normal distribution; JCGM 106:2012, 7.3).
    const demand d;
    const auto judged = [&](double p) {
        const auto request = d.request();
        findings out{request};
        out.add("slide", answer{"goes on", p, p, "a slide"});
        return std::move(out).take().at(0).outcome;
    };
    CHECK(judged(0.978) == verdict::pass);
    CHECK(judged(0.976) == verdict::unsure);
    CHECK(judged(0.024) == verdict::unsure);
    CHECK(judged(0.022) == verdict::fail);
}

TEST_CASE("an unsure finding names the largest contribution", "[run][judging]") {
    const demand d;
    const auto request = d.request();
    findings out{request};
    out.add("error",
            make_reading(4.5, dimension::cents, {{"estimator", 0.1}, {"bench voltage", 1.2}}));
    const auto found = std::move(out).take();
    REQUIRE(found[0].outcome == verdict::unsure);
    CHECK(found[0].reason.find("bench voltage") != std::string::npos);
}

TEST_CASE("what the file does not demand is not judged", "[run][judging]") {
    const demand d;
    const auto request = d.request();
    findings out{request};
    out.add("scale", cents_reading(0.0, 0.1));
    out.doubt("scale", "No reason.");
    CHECK(std::move(out).take().empty());
}

TEST_CASE("judging: an uncertainty from few points is widened as Student's table says",
          "[rig][judging]") {
    // JCGM 100:2008, Table G.2, column 95 %: 12.71, 2.57, 2.23, 2.09 for 1, 5, 10 and 20.
    CHECK(widened(1.0, 1) == Approx(12.71 / 1.96).epsilon(1e-3));
    CHECK(widened(1.0, 5) == Approx(2.57 / 1.96).epsilon(2e-3));
    CHECK(widened(2.0, 10) == Approx(2.0 * 2.23 / 1.96).epsilon(2e-3));
    CHECK(widened(1.0, 20) == Approx(2.09 / 1.96).epsilon(2e-3));
    CHECK(std::isinf(widened(1.0, 0)));
}
