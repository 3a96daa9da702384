#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <map>
#include <regex>

#include "../sample_result.hpp"
#include "rig/report/embedded.hpp"
#include "rig/report/html.hpp"
#include "rig/report/markup.hpp"

using namespace cvrig;

namespace {

std::size_t count(const std::string& text, const std::string& what) {
    std::size_t n = 0;
    for (auto at = text.find(what); at != std::string::npos; at = text.find(what, at + 1)) ++n;
    return n;
}

std::string bare_page() {
    return html_report(testing::sample_result(), {"", "", "", "", ""});
}

/// Relative luminance of "#rrggbb". Source: WCAG 2.1, "relative luminance".
double luminance(const std::string& colour) {
    const auto channel = [&](std::size_t at) {
        const double c = std::stoi(colour.substr(at, 2), nullptr, 16) / 255.0;
        return c <= 0.03928 ? c / 12.92 : std::pow((c + 0.055) / 1.055, 2.4);
    };
    return 0.2126 * channel(1) + 0.7152 * channel(3) + 0.0722 * channel(5);
}

/// Source: WCAG 2.1, "contrast ratio".
double contrast(const std::string& a, const std::string& b) {
    const auto [dark, light] = std::minmax({luminance(a), luminance(b)});
    return (light + 0.05) / (dark + 0.05);
}

/// The colour names of each scheme: the blocks that begin with :root, in order.
std::vector<std::map<std::string, std::string>> schemes(const std::string& css) {
    std::vector<std::map<std::string, std::string>> all;
    const std::regex block{":root \\{([^}]*)\\}"}, colour{"--([a-z]+): (#[0-9a-f]{6})"};
    for (std::sregex_iterator b{css.begin(), css.end(), block}, end; b != end; ++b) {
        const std::string inside = (*b)[1];
        auto& names = all.emplace_back();
        for (std::sregex_iterator c{inside.begin(), inside.end(), colour}; c != end; ++c) {
            names[(*c)[1]] = (*c)[2];
        }
    }
    return all;
}

}  // namespace

TEST_CASE("text of a run cannot become markup", "[report]") {
    const auto page = bare_page();
    CHECK(count(page, "alert('wide')") > 0);
    CHECK(page.find("<script>alert") == std::string::npos);
    CHECK(page.find("Ferrule <b>") == std::string::npos);
    // One script for each plot's numbers, two for the page.
    CHECK(count(page, "<script") == count(page, "<figure") + 2);
    CHECK(count(page, "</script") == count(page, "<script"));
}

TEST_CASE("escaping covers what HTML gives a meaning", "[report]") {
    CHECK(report::escaped("<a href=\"x\">&\x01\xff") ==
          "&lt;a href=&quot;x&quot;&gt;&amp;\xEF\xBF\xBD");
    CHECK(report::script_safe("\"</script>&\"") == "\"\\u003c/script\\u003e\\u0026\"");
}

TEST_CASE("the built-in assets cannot end their own element", "[report]") {
    CHECK(report::plot_library_script().find("</script") == std::string_view::npos);
    CHECK(report::page_script().find("</script") == std::string_view::npos);
    CHECK(report::plot_library_style().find("</style") == std::string_view::npos);
    CHECK(report::page_style().find("</style") == std::string_view::npos);
    CHECK(report::plot_library_script().size() > 100000);
}

TEST_CASE("the page fetches nothing", "[report]") {
    const auto page = bare_page();
    CHECK(page.find("src=") == std::string::npos);
    CHECK(page.find("href=\"http") == std::string::npos);
    CHECK(page.find("default-src 'none'") != std::string::npos);
    CHECK(report::page_style().find("url(") == std::string_view::npos);
}

TEST_CASE("every finding with a reading or an answer is drawn", "[report]") {
    std::size_t drawable = 0;
    const auto run = testing::sample_result();
    for (const auto* all : {&run.checks, &run.bench.proofs}) {
        for (const auto& c : *all) {
            for (const auto& f : c.findings) {
                drawable +=
                    f.answered || (f.measured && std::isfinite(f.measured->value)) ? 1u : 0u;
            }
        }
    }
    CHECK(count(bare_page(), "<svg class=\"mark\"") == drawable);
}

TEST_CASE("every table head says what it heads", "[report]") {
    const auto page = bare_page();
    CHECK(count(page, "<th ") == count(page, "<th scope=\""));
    CHECK(page.find("<th>") == std::string::npos);
}

TEST_CASE("the cautions stand on every page", "[report]") {
    const auto page = html_report(run_result{}, {"", "", "", "", ""});
    for (const auto* word : {"loudspeaker", "headphone", "ribbon cable", "polarity", "cold leg",
                             "10 V peak-to-peak", "licensed people", "JCGM 106:2012"}) {
        CHECK(page.find(word) != std::string::npos);
    }
}

TEST_CASE("text has a contrast of at least 4.5 in light, dark and print", "[report]") {
    // WCAG 2.1, success criterion 1.4.3 (level AA): 4.5 to 1 for text.
    const auto all = schemes(std::string{report::page_style()});
    REQUIRE(all.size() == 3);
    for (const auto& names : all) {
        for (const auto* text : {"ink", "soft", "pass", "fail", "unsure", "skipped"}) {
            for (const auto* ground : {"paper", "sheet"}) {
                if (!names.contains(text) || !names.contains(ground)) continue;
                CAPTURE(text, ground);
                CHECK(contrast(names.at(text), names.at(ground)) >= 4.5);
            }
        }
    }
    // Source: the definition's own extremes, black on white being 21 to 1.
    CHECK_THAT(contrast("#000000", "#ffffff"), Catch::Matchers::WithinAbs(21.0, 1e-9));
}
