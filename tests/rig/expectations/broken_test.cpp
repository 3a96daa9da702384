#include <catch2/catch.hpp>
#include <sstream>

#include "tests/rig/expectations/files.hpp"

namespace {

/// One slip in a good file, and all that is said about it.
struct slip {
    std::string what;
    std::string with;
    std::vector<std::string> said;
};

/// "\n" in a line of the table stands for a line end.
std::string with_line_ends(std::string_view text) {
    std::string out;
    for (auto at = text.find("\\n"); at != std::string_view::npos; at = text.find("\\n")) {
        out.append(text.substr(0, at)).append(1, '\n');
        text.remove_prefix(at + 2);
    }
    return out.append(text);
}

/// The table of slips: lines "what ...", "with ..." and any number of "said ...".
std::vector<slip> slips_of(const std::string& name) {
    std::istringstream in{data_text(name)};
    std::vector<slip> all;
    for (std::string line; std::getline(in, line);) {
        if (line.size() < 5 || line[0] == '#') continue;
        const auto rest = line.substr(5);
        if (line.starts_with("what ")) all.push_back({with_line_ends(rest), {}, {}});
        if (line.starts_with("with ")) all.back().with = with_line_ends(rest);
        if (line.starts_with("said ")) all.back().said.push_back(rest);
    }
    return all;
}

}  // namespace

TEST_CASE("broken: the file without slips is fine", "[rig][expectations]") {
    CHECK(complaints_about_expectations(data_text("expectations/complete.yaml")).empty());
    CHECK(complaints_about_bench(data_text("bench/complete.yaml")).empty());
}

TEST_CASE("broken: every slip in an expectation file gets its sentence and place",
          "[rig][expectations]") {
    const auto good = data_text("expectations/complete.yaml");
    const auto slips = slips_of("expectations/slips.txt");
    REQUIRE(slips.size() > 100);
    for (const auto& s : slips) {
        INFO(s.what << "  ->  " << s.with);
        CHECK_FALSE(s.said.empty());
        CHECK(complaints_about_expectations(edited(good, s.what, s.with)) == s.said);
    }
}

TEST_CASE("broken: every slip in a bench file gets its sentence and place", "[rig][bench]") {
    const auto good = data_text("bench/complete.yaml");
    const auto slips = slips_of("bench/slips.txt");
    REQUIRE(slips.size() >= 40);
    for (const auto& s : slips) {
        INFO(s.what << "  ->  " << s.with);
        CHECK_FALSE(s.said.empty());
        CHECK(complaints_about_bench(edited(good, s.what, s.with)) == s.said);
    }
}
