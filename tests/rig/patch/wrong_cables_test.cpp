#include <fmt/format.h>

#include <catch2/catch.hpp>

#include "tests/rig/patch/patch_bench.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

patch_result heard_with(const cabling& cables) {
    const auto r = check_cables(read_demo(), demo_unit(1, "tied"), cables);
    UNSCOPED_INFO(fmt::format("sentences: {}", fmt::join(r.sentences, " / ")));
    UNSCOPED_INFO(fmt::format("cannot exclude: {}", fmt::join(r.cannot_exclude, " / ")));
    return r;
}

bool says(const patch_result& r, const std::string& what) {
    for (const auto* list : {&r.sentences, &r.cannot_exclude})
        for (const auto& s : *list)
            if (s.find(what) != std::string::npos) return true;
    return false;
}

TEST_CASE("patch: a missing gate or pitch cable is named, and nothing may be judged", "[patch]") {
    auto cables = cabling::straight();
    cables.gain[1] = {};
    auto r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    CHECK(says(r, "nothing reaches its jack gate (cable of OUT 2 missing"));
    cables = cabling::straight();
    cables.gain[0] = {};
    r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    CHECK(says(r, "No output moves the pitch: the cable of OUT 1 to jack pitch is missing"));
}

// What a missing cable and a build without that function have in common is all that can be heard.
TEST_CASE("patch: a missing accent, slide or cutoff cable is a doubt about that jack alone",
          "[patch]") {
    for (const std::size_t o : {std::size_t{2}, std::size_t{3}, std::size_t{4}}) {
        auto cables = cabling::straight();
        const double gain = GENERATE(0.0, -1.0);
        cables.gain[o][o] = gain;
        CAPTURE(jack_names[o], gain);
        const auto r = heard_with(cables);
        CHECK(r.as_wired);
        CHECK(r.sentences.empty());
        CHECK(r.unproven_jacks == std::vector<std::string>{jack_names[o]});
        REQUIRE(r.cannot_exclude.size() == 1);
        CHECK(says(r, fmt::format("Nothing was heard of OUT {} at jack {}", o + 1, jack_names[o])));
    }
}

TEST_CASE("patch: an inverted pitch output is told from a missing one", "[patch]") {
    auto cables = cabling::straight();
    cables.gain[0][0] = -1.0;
    const auto r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    CHECK(says(r, "The pitch falls when OUT 1 rises: that output is inverted"));
    CHECK(r.sentences.size() == 1);
}

TEST_CASE("patch: half of the pitch voltage is a shorted leg or a volume control", "[patch]") {
    auto cables = cabling::straight();
    cables.gain[0][0] = 0.5;
    auto r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    CHECK(says(r, "OUT 1 moves the pitch by only 0.50 octave"));
    CHECK(says(r, "cold leg"));
    cables.gain[0][0] = 0.75;
    r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    CHECK(says(r, "OUT 1 moves the pitch by 0.75 octave"));
    // A twentieth is the business of the tracking check.
    cables.gain[0][0] = 0.95;
    r = heard_with(cables);
    CHECK(r.as_wired);
}

TEST_CASE("patch: an input that hears nothing is named", "[patch]") {
    for (const std::size_t i : {std::size_t{0}, std::size_t{1}}) {
        auto cables = cabling::straight();
        cables.back[i] = {0.0, 0.0};
        const auto r = heard_with(cables);
        CHECK_FALSE(r.as_wired);
        REQUIRE(r.sentences.size() == 1);
        CHECK(says(r, fmt::format("Nothing arrives at IN {}, though the module sounds", i + 1)));
    }
}

TEST_CASE("patch: a silent module is said to be silent", "[patch]") {
    auto cables = cabling::straight();
    cables.back = {};
    const auto r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    REQUIRE(r.sentences.size() == 1);
    CHECK_THAT(r.sentences[0], Catch::StartsWith("Nothing is heard, whichever output is pulsed"));
}

TEST_CASE("patch: a module that sounds by itself tells nothing about cables", "[patch]") {
    for (const auto* fault : {"gate-stuck:60000", "gate-inverted:1"}) {
        auto words = demo_unit(1, "tied");
        words.push_back(fmt::format("fault={}", fault));
        CAPTURE(fault);
        const auto r = check_cables(read_demo(), words, cabling::straight());
        CAPTURE(r.sentences);
        CHECK_FALSE(r.as_wired);
        REQUIRE(r.sentences.size() == 1);
        CHECK_THAT(r.sentences[0], Catch::StartsWith("The module sounds although every output is "
                                                     "at 0 V"));
    }
}

TEST_CASE("patch: two outputs of the module at one input are heard", "[patch]") {
    auto cables = cabling::straight();
    cables.back[0] = {0.5, 0.5};
    const auto r = heard_with(cables);
    CHECK_FALSE(r.as_wired);
    CHECK(says(r, "Jack right of the module is heard at IN 1 and IN 2 instead of IN 2 alone"));
}

// Where a second cable cannot be told from a function that a build lacks: an output that opens the
// gate cannot be lowered during a note, and one that moves pitch or filter changes every note.
bool is_only_a_doubt(std::size_t from, std::size_t to, bool own_cable_is_there) {
    constexpr std::size_t pitch = 0, gate = 1, accent = 2, slide = 3, cutoff = 4;
    if (from == gate) return to == accent || to == slide;
    if (own_cable_is_there) return false;
    return (from == pitch && (to == accent || to == cutoff)) || (from == cutoff && to == accent);
}

void demand_second_cable(std::size_t from, std::size_t to, bool own_cable_is_there) {
    auto cables = cabling::straight();
    if (!own_cable_is_there) cables.gain[to] = {};
    cables.gain[from][to] = 1.0;
    CAPTURE(jack_names[from], jack_names[to], own_cable_is_there);
    const auto r = heard_with(cables);
    if (is_only_a_doubt(from, to, own_cable_is_there)) {
        CHECK(r.as_wired);
        CHECK_FALSE(r.proves(jack_names[to]));
        CHECK(says(r, fmt::format("at jack {}", jack_names[to])));
        return;
    }
    CHECK_FALSE(r.as_wired);
    REQUIRE(r.sentences.size() == 1);
    const auto begins = fmt::format("OUT {} goes to jack ", from + 1);
    CHECK_THAT(r.sentences[0], Catch::StartsWith(begins));
    CHECK(says(r, fmt::format("jack {}", jack_names[to])));
}

TEST_CASE("patch: an output with a second cable is named, or the jack is in doubt", "[patch]") {
    for (std::size_t from = 0; from < desk_jacks; ++from)
        for (std::size_t to = 0; to < desk_jacks; ++to) {
            if (from == to) continue;
            demand_second_cable(from, to, true);
            demand_second_cable(from, to, false);
        }
}

// Two outputs joined at both jacks pull each other to the middle, as wires do.
TEST_CASE("patch: two outputs that are joined are never as wired", "[patch]") {
    for (std::size_t a = 0; a < desk_jacks; ++a)
        for (std::size_t b = a + 1; b < desk_jacks; ++b) {
            auto cables = cabling::straight();
            for (const auto from : {a, b})
                for (const auto to : {a, b}) cables.gain[from][to] = 0.5;
            CAPTURE(jack_names[a], jack_names[b]);
            const auto r = heard_with(cables);
            CHECK_FALSE(r.as_wired);
            CHECK_FALSE(r.sentences.empty());
        }
}

TEST_CASE("patch: an output in another's jack leaves its own empty", "[patch]") {
    for (std::size_t from = 0; from < desk_jacks; ++from)
        for (std::size_t to = 0; to < desk_jacks; ++to) {
            if (from == to) continue;
            auto cables = cabling::straight();
            cables.gain[from] = {};
            cables.gain[from][to] = 1.0;
            CAPTURE(jack_names[from], jack_names[to]);
            const auto r = heard_with(cables);
            CHECK_FALSE(r.as_wired);
            CHECK(r.sentences.size() == 1);
        }
}

// Every jack of the demo takes 4 V and more, so an exchanged cable brings none of them more.
TEST_CASE("patch: no jack gets more than what all of them take, however they are wired",
          "[patch]") {
    const auto files = read_demo();
    for (const auto& cables : {cabling::straight(), cabling::permuted({4, 0, 1, 2, 3})}) {
        ferrule_desk desk{demo_unit(1, "tied"), cables};
        static_cast<void>(check_patch(desk, files.desk, files.module, {}));
        for (std::size_t j = 0; j < desk_jacks; ++j) CHECK(desk.highest_at(j) <= 4.0F);
    }
}

TEST_CASE("patch: no output leaves its limits of the bench file", "[patch]") {
    auto files = read_demo();
    for (auto& o : files.desk.outputs) o.highest = volts{3.0};
    ferrule_desk desk{demo_unit(1, "tied"), cabling::straight()};
    const auto r = check_patch(desk, files.desk, files.module, {});
    CAPTURE(r.sentences);
    CHECK(r.as_wired);
    for (std::size_t j = 0; j < desk_jacks; ++j) CHECK(desk.highest_at(j) <= 3.0F);
}

}  // namespace
