#include "rig/calibration/bench_support.hpp"

#include <catch2/catch.hpp>

#include "rig/checks/check.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;

namespace {

module_expectations ferrule_wanting(double error_cents) {
    auto m = read_expectations(CVRIG_DEMO "/ferrule.expectations.yaml", all_specs());
    m.calibration->error.lower = -error_cents;
    m.calibration->error.upper = error_cents;
    return m;
}

bench desk_of(double u_volts) {
    auto b = read_bench(CVRIG_DEMO "/desk.bench.yaml");
    for (auto& output : b.outputs) output.u = volts{u_volts};
    return b;
}

}  // namespace

TEST_CASE("bench support: three voltages carry their uncertainty to the ends of the range",
          "[calibration]") {
    const auto s = support_of(desk_of(0.001), ferrule_wanting(5.0));
    // At 0 V the voltages count 1/3 + 1, 1/3 and 1/3 - 1 (the line of JCGM 100:2008, H.3), together
    // 7/3 times 1 mV if each errs in the worst sense; 1 mV is 1.2 cent (1 V an octave).
    CHECK_THAT(s.u_cents, WithinAbs(7.0 / 3.0 * 1.2, 1e-9));
    CHECK_FALSE(s.is_enough);
    CHECK_THAT(s.most_u_volts, WithinAbs(0.001 * 2.5 / (2.0 * 7.0 / 3.0 * 1.2), 1e-9));
}

TEST_CASE("bench support: what is known well enough is enough, and just not is refused",
          "[calibration]") {
    const auto m = ferrule_wanting(5.0);
    const double most = support_of(desk_of(0.001), m).most_u_volts;
    CHECK_NOTHROW(require_support(desk_of(most * 0.999), m));
    CHECK_THROWS(require_support(desk_of(most * 1.001), m));
    CHECK_THROWS_WITH(require_support(desk_of(0.001), m),
                      Contains("desk.bench.yaml") && Contains("jack 'pitch'") &&
                          Contains("1 mV (standard uncertainty)") &&
                          Contains("uncertain by 5.6 cent at 0 V") &&
                          Contains("to 450 µV or less"));
}

TEST_CASE("bench support: a bench without a pitch output is refused", "[calibration]") {
    auto b = desk_of(0.0001);
    b.outputs.erase(b.outputs.begin());
    CHECK_THROWS_WITH(require_support(b, ferrule_wanting(5.0)), Contains("needs known voltages"));
}
