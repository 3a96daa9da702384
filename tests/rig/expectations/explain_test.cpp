#include "rig/expectations/explain.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "tests/rig/expectations/files.hpp"

using Catch::Matchers::Contains;

TEST_CASE("explain: a complete file in plain words is as approved", "[rig][expectations]") {
    const auto text =
        cvrig::explain(read_text(data_text("expectations/complete.yaml")), test_checks());
    CHECK(text == data_text("expectations/complete.explained.txt"));
}

TEST_CASE("explain: the judging rule follows the file", "[rig][expectations]") {
    const auto good = data_text("expectations/complete.yaml");
    const auto once =
        edited(good, "{coverage factor: 2, retakes: 2}", "{coverage factor: 2.5, retakes: 1}");
    CHECK_THAT(cvrig::explain(read_text(once), test_checks()),
               Contains("at least 2.5 times") && Contains("up to 1 time.\n"));
    const auto never = edited(good, "retakes: 2", "retakes: 0");
    CHECK_THAT(cvrig::explain(read_text(never), test_checks()),
               Contains("it is unsure.\n") && !Contains("measured again"));
}

TEST_CASE("explain: modes with the same limit share a line, and one limit for all names no mode",
          "[rig][expectations]") {
    const auto good = data_text("expectations/complete.yaml");
    const auto same =
        edited(good, "{struck: between 2 dB and 6 dB, otherwise: between 3 dB and 8 dB}",
               "{struck: between 2 dB and 6 dB, otherwise: between 2 dB and 6 dB}");
    CHECK_THAT(cvrig::explain(read_text(same), test_checks()),
               Contains("raises the level by between 2 dB and 6 dB\n"));
}
