#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>

#include "tests/rig/patch/patch_bench.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

using permutation = std::array<std::size_t, desk_jacks>;

// Sanitizers make each check ten times as long; a few then have to do.
#ifdef CVRIG_SPARSE
constexpr std::size_t every = 12;
#else
constexpr std::size_t every = 1;
#endif

/// The cables back do not change what happens on the way there, so as a rule every order of cables
/// is tried with one of the two.
enum class cables_back { alternating, both };

bool is_straight(const permutation& p) {
    return std::is_sorted(p.begin(), p.end());
}

std::size_t moved(const permutation& p) {
    std::size_t n = 0;
    for (std::size_t i = 0; i < p.size(); ++i) n += p[i] == i ? 0 : 1;
    return n;
}

bool names(const std::vector<std::string>& sentences, const std::string& what) {
    return std::any_of(sentences.begin(), sentences.end(),
                       [&](const auto& s) { return s.find(what) != std::string::npos; });
}

void demand_named(const patch_result& r, const permutation& p) {
    for (std::size_t o = 0; o < p.size(); ++o) {
        CHECK(r.reached_by.at(jack_names[p[o]]) == std::vector<std::string>{jack_names[o]});
        if (p[o] == o) continue;
        CHECK((names(r.sentences, fmt::format("OUT {} goes to jack {}", o + 1, jack_names[p[o]])) ||
               names(r.sentences, fmt::format("OUT {} to jack {}", o + 1, jack_names[p[o]]))));
    }
    // One for each round of cables: at most two rounds fit into five, and one more for the inputs.
    CHECK(r.sentences.size() <= (moved(p) >= 4 ? 3U : 2U));
}

void check_one(const demo_files& files, const permutation& p, bool crossed, int mode,
               margins& all) {
    constexpr std::array modes{"tied", "struck", "wide"};
    auto cables = cabling::permuted(p);
    if (crossed) cables.back = {{{0.0, 1.0}, {1.0, 0.0}}};
    CAPTURE(p, crossed, modes[static_cast<std::size_t>(mode)]);
    const auto r =
        check_cables(files, demo_unit(1 + mode, modes[static_cast<std::size_t>(mode)]), cables);
    CAPTURE(r.sentences, r.cannot_exclude);
    CHECK(r.as_wired == (is_straight(p) && !crossed));
    CHECK(r.short_test_held == is_straight(p));
    CHECK(r.cannot_exclude.empty());
    CHECK(r.unproven_jacks.empty());
    demand_named(r, p);
    CHECK(names(r.sentences,
                "The cables from left and right are exchanged: jack left arrives at "
                "IN 2, jack right at IN 1.") == crossed);
    all.add(r, cables);
}

// All permutations that lead the pitch output to one jack.
void check_all_with_pitch_at(std::size_t jack, cables_back back) {
    const auto files = read_demo();
    margins all;
    permutation p{0, 1, 2, 3, 4};
    std::size_t orders = 0;
    do {
        if (p[0] != jack) continue;
        const bool odd = orders++ % 2 == 1;
        if ((orders - 1) % every != 0) continue;
        const int mode = static_cast<int>(orders % 3);
        check_one(files, p, odd, mode, all);
        if (back == cables_back::both) check_one(files, p, !odd, mode, all);
    } while (std::next_permutation(p.begin(), p.end()));
    REQUIRE(orders == 24);
    all.print(fmt::format("pitch output at jack {}", jack_names[jack]));
}

TEST_CASE("patch: every order of cables is named with the pitch output at jack pitch", "[patch]") {
    check_all_with_pitch_at(0, cables_back::alternating);
}
TEST_CASE("patch: every order of cables is named with the pitch output at jack gate", "[patch]") {
    check_all_with_pitch_at(1, cables_back::alternating);
}
TEST_CASE("patch: every order of cables is named with the pitch output at jack accent", "[patch]") {
    check_all_with_pitch_at(2, cables_back::alternating);
}
TEST_CASE("patch: every order of cables is named with the pitch output at jack slide", "[patch]") {
    check_all_with_pitch_at(3, cables_back::alternating);
}
TEST_CASE("patch: every order of cables is named with the pitch output at jack cutoff", "[patch]") {
    check_all_with_pitch_at(4, cables_back::alternating);
}

// All 240, by hand: bin/test_patch "[all-orders]".
TEST_CASE("patch: every order of cables is named with straight and with crossed cables back",
          "[.][all-orders]") {
    for (std::size_t jack = 0; jack < desk_jacks; ++jack)
        check_all_with_pitch_at(jack, cables_back::both);
}

TEST_CASE("patch: two exchanged cables are named in one sentence", "[patch]") {
    const auto r =
        check_cables(read_demo(), demo_unit(3, "tied"), cabling::permuted({0, 3, 2, 1, 4}));
    REQUIRE(r.sentences.size() == 1);
    CHECK(r.sentences[0] ==
          "The cables of gate and slide are exchanged: OUT 2 goes to jack slide, OUT 4 to jack "
          "gate. Exchange them at one end.");
    CHECK_FALSE(r.as_wired);
}

}  // namespace
