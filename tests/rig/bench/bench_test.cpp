#include "rig/bench/bench.hpp"

#include <catch2/catch.hpp>

#include "tests/rig/expectations/files.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;

namespace {

bench bench_from(const std::string& text) {
    const scratch_file file{text};
    auto b = read_bench(file.path());
    b.file = "desk.yaml";
    for (auto& o : b.outputs) o.where.file = "desk.yaml";
    b.program.where.file = "desk.yaml";
    return b;
}

std::vector<std::string> sentences(const std::string& bench_text,
                                   const std::string& expectations_text) {
    std::vector<std::string> out;
    for (const auto& c : mismatches(bench_from(bench_text), read_text(expectations_text))) {
        out.push_back(std::to_string(c.where.line) + ": " + c.sentence);
    }
    return out;
}

const std::string& good_bench() {
    static const auto text = data_text("bench/complete.yaml");
    return text;
}

const std::string& good_expectations() {
    static const auto text = data_text("expectations/complete.yaml");
    return text;
}

}  // namespace

TEST_CASE("bench: a complete file is read as it says", "[rig][bench]") {
    const auto b = bench_from(good_bench());
    CHECK(b.name == "desk");
    REQUIRE(b.program.command.size() == 7);
    CHECK(b.program.command[4] == "{settings}");
    CHECK(b.program.rate == sample_rate{48000.0});
    CHECK(b.program.time_limit == seconds{60.0});
    REQUIRE(b.outputs.size() == 5);
    CHECK(b.outputs[0].jack == "pitch");
    CHECK(b.outputs[0].lowest == volts{-0.1});
    CHECK(b.outputs[0].highest == volts{5.0});
    CHECK_THAT(b.outputs[0].u.value(), WithinAbs(0.0002, 1e-18));  // rounding of 0.2 * 0.001
    CHECK(b.outputs[0].where.line == 5);
    REQUIRE(b.inputs.size() == 2);
    CHECK(b.inputs[0].u_gain_percent == 0.2);
    CHECK_THAT(b.u_clock_ppm, WithinAbs(20.0, 1e-12));
    CHECK(b.sha256.size() == 64);
}

TEST_CASE("bench: what a file leaves out is narrow", "[rig][bench]") {
    const auto b = bench_from(good_bench());
    CHECK(b.outputs[3].lowest == volts{-0.1});
    CHECK(b.outputs[3].highest == volts{5.5});
    CHECK(b.outputs[3].u == volts{0.001});
    CHECK(b.inputs[1].u_gain_percent == 0.5);
}

TEST_CASE("bench: a bench that fits its module has no mismatches", "[rig][bench]") {
    CHECK(sentences(good_bench(), good_expectations()).empty());
}

TEST_CASE("bench: jacks without a channel are named", "[rig][bench]") {
    CHECK(
        sentences(edited(good_bench(), "  - {jack: slide}\n", ""), good_expectations()) ==
        std::vector<std::string>{
            "8: No output of bench 'desk' feeds jack 'slide'; add it to 'outputs' in desk.yaml."});
    CHECK(sentences(edited(good_bench(), ", {jack: right}", ""), good_expectations()) ==
          std::vector<std::string>{
              "10: No input of bench 'desk' hears jack 'right'; add it to 'inputs' in desk.yaml."});
}

TEST_CASE("bench: voltages beyond an output's limits are refused before anything sounds",
          "[rig][bench]") {
    CHECK(sentences(edited(good_bench(), "-0.1 V to 5 V", "-0.1 V to 3 V"), good_expectations())
              .front() ==
          "5: Jack 'pitch' would get 0 V to 4 V, but its output of bench 'desk' is limited to "
          "-100 mV to 3 V (desk.yaml:5:5).");
}

TEST_CASE("bench: notes beyond the limits are found even if the drive range is not",
          "[rig][bench]") {
    auto m = read_text(good_expectations());
    m.drive.front().high = volts{3.0};
    const auto b = bench_from(edited(good_bench(), "-0.1 V to 5 V", "-0.1 V to 3 V"));
    const auto found = mismatches(b, m);
    REQUIRE(found.size() == 1);
    CHECK(found.front().where.line == 18);
    CHECK_THAT(found.front().sentence,
               Catch::Matchers::StartsWith("Jack 'pitch' would get 0 V to 4 V"));
}

TEST_CASE("bench: a program that never hears of the settings cannot test them", "[rig][bench]") {
    CHECK(
        sentences(edited(good_bench(), "\"{settings}\", ", ""), good_expectations()) ==
        std::vector<std::string>{"12: The program of bench 'desk' is never told the settings; add "
                                 "\"{settings}\" to 'program' (desk.yaml:3:7)."});
}
