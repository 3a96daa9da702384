#include <catch2/catch.hpp>

#include <cmath>

#include "tests/rig/demo_desk.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;
using cvrig::testing::demo_desk;
using cvrig::testing::ferrule_link;
using cvrig::testing::finding_of;

namespace {

check_result accents_with(const std::string& fault) {
    const demo_desk desk;
    ferrule_link module{3, fault};
    return desk.judged(module, {.checks = {"accent"}, .settings = {{"mode", "struck"}}});
}

}  // namespace

TEST_CASE("accent check: a module that is out of tune is heard all the same", "[checks][accent]") {
    // Two fifths of a semitone move the twentieth harmonic by half the distance to the next.
    const auto in_tune = accents_with("");
    const auto flat = accents_with("pitch-offset:-40");
    CHECK(in_tune.outcome() == verdict::pass);
    CHECK(flat.outcome() == verdict::pass);
    for (const char* key : {"level rise", "brightness rise", "decay ratio"}) {
        CAPTURE(key);
        const auto& a = finding_of(in_tune, key).measured;
        const auto& b = finding_of(flat, key).measured;
        REQUIRE(a);
        REQUIRE(b);
        // As far apart as three of their own standard uncertainties; a filter stands 2 % otherwise to a
        // note that is flat by 2.3 %.
        CHECK_THAT(b->value, WithinAbs(a->value, 3.0 * std::hypot(a->standard_uncertainty,
                                                                  b->standard_uncertainty) +
                                                     0.02 * a->value));
    }
}
