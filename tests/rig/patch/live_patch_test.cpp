// The check of the cables at a real audio server: the cables are connections between processes.
#include <fmt/format.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <numeric>

#include "rig/console/console.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/run/patch_check.hpp"
#include "tests/rig/patch/patch_bench.hpp"
#include "tests/support/live_bench.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;
using test_support::live_bench;

using permutation = std::array<std::size_t, desk_jacks>;

constexpr std::string_view bench_text = R"(format: cvrig bench 1
name: live
link: {audio: desk, api: jack, rate: 48 kHz, block: 256, simulated: yes}
outputs:
  - {jack: pitch,  channel: 1, limits: -0.1 V to 5 V,  socket: OUT 1}
  - {jack: gate,   channel: 2, limits: 0 V to 5.5 V, socket: OUT 2}
  - {jack: accent, channel: 3, limits: 0 V to 5.5 V, socket: OUT 3}
  - {jack: slide,  channel: 4, limits: 0 V to 5.5 V, socket: OUT 4}
  - {jack: cutoff, channel: 5, limits: 0 V to 5 V,   socket: OUT 5}
inputs: [{jack: left, channel: 1, socket: IN 1}, {jack: right, channel: 2, socket: IN 2}]
loop-back: {output: 7, input: 3, level: 1 V}
)";

test_support::live_bench_settings settings() {
    test_support::live_bench_settings out;
    out.module_arguments = {"unit=3", "mode=tied", "cutoff knob=down", "slide knob=down"};
    return out;
}

console_settings terminal_at(const std::string& path) {
    console_settings out;
    out.how = console_settings::way::terminal;
    out.path = path;
    return out;
}

// One bench for many orders of cables: what sounds is started once.
class patched_bench {
public:
    patched_bench()
        : live_{settings()},
          files_{read_demo()},
          console_{open_console(terminal_at(live_.console()), {}, {})} {
        live_.tell_desk("freewheel on");
        const auto file = live_.folder() / "live.bench.yaml";
        write_file_atomically(file, std::string{bench_text});
        files_.desk = read_bench(file.string());
        files_.module.routes =
            output_route{{{"left", "OUTPut:ROUTe LEFT"}, {"right", "OUTPut:ROUTe RIGHt"}},
                         "OUTPut:ROUTe BOTH",
                         {}};
        desk_ = std::make_unique<rt_audio_interface>(files_.desk);
    }

    void plug(const std::string& cables, const std::string& back) {
        live_.tell_desk("cables " + cables);
        live_.tell_desk("back " + back);
        live_.tell_desk("plugged");
    }

    patch_result check() {
        return check_patch(*desk_, files_.desk, files_.module,
                           {.tell = [&](const std::string& line) { return told(line); }});
    }

    live_bench& live() { return live_; }

private:
    // The question that follows is answered only when the line has been obeyed.
    bool told(const std::string& line) {
        static_cast<void>(console_->ask({.send = line, .expect = std::nullopt, .where = {}}));
        return console_->ask({.send = "SYSTem:ERRor?", .expect = "[+]?0,.*", .where = {}}).ok;
    }

    live_bench live_;
    demo_files files_;
    std::unique_ptr<console> console_;
    std::unique_ptr<rt_audio_interface> desk_;
};

std::string cables_of(const permutation& p) {
    std::string out;
    for (std::size_t o = 0; o < p.size(); ++o)
        out += fmt::format("{}{}:{}", o == 0 ? "" : ",", o + 1, jack_names[p[o]]);
    return out;
}

void demand(const patch_result& r, const permutation& p, bool crossed) {
    CAPTURE(p, crossed, r.sentences, r.cannot_exclude);
    CHECK(r.as_wired == (std::is_sorted(p.begin(), p.end()) && !crossed));
    CHECK(r.cannot_exclude.empty());
    for (std::size_t o = 0; o < p.size(); ++o) {
        const auto found = r.reached_by.find(jack_names[p[o]]);
        REQUIRE(found != r.reached_by.end());
        CHECK(found->second == std::vector<std::string>{jack_names[o]});
    }
    CHECK(r.heard_at.at("left") == std::vector<std::string>{crossed ? "right" : "left"});
}

void check_orders(std::size_t every) {
    patched_bench at;
    permutation p{0, 1, 2, 3, 4};
    std::size_t n = 0;
    seconds played{0.0};
    do {
        for (const bool crossed : {false, true}) {
            if (n++ % every != 0) continue;
            at.plug(cables_of(p), crossed ? "left:2,right:1" : "left:1,right:2");
            const auto r = at.check();
            demand(r, p, crossed);
            played += r.played;
        }
    } while (std::next_permutation(p.begin(), p.end()));
    fmt::print("{} orders of cables, {:.0f} s of sound\n", (n + every - 1) / every, played.value());
}

TEST_CASE("patch live: cables of a real server are named in any order", "[live]") {
    check_orders(29);
}

// All 240, by hand: bin/test_patch_live "[all-orders]".
TEST_CASE("patch live: every order of cables of a real server is named", "[.][all-orders]") {
    check_orders(1);
}

TEST_CASE("patch live: a missing cable and an inverted output are named", "[live]") {
    patched_bench at;
    at.plug("1:pitch,3:accent,4:slide,5:cutoff", "left:1,right:2");
    const auto missing = at.check();
    CHECK_FALSE(missing.as_wired);
    REQUIRE_FALSE(missing.sentences.empty());
    CHECK_THAT(missing.sentences[0], Catch::StartsWith("Nothing is heard"));
    at.plug("1:pitch,2:gate,3:accent,4:slide,5:cutoff", "left:1,right:2");
    at.live().tell_desk("fault inverted@out_1:1");
    const auto inverted = at.check();
    CHECK_FALSE(inverted.as_wired);
    REQUIRE_FALSE(inverted.sentences.empty());
    CHECK_THAT(inverted.sentences[0], Catch::StartsWith("The pitch falls when OUT 1 rises"));
    at.live().tell_desk("clear");
    at.live().tell_desk("fault cold-leg-shorted@out_1:1");
    const auto halved = at.check();
    CHECK_FALSE(halved.as_wired);
    REQUIRE_FALSE(halved.sentences.empty());
    CHECK_THAT(halved.sentences[0], Catch::StartsWith("OUT 1 moves the pitch by only 0.50"));
    at.live().tell_desk("clear");
    CHECK(at.check().as_wired);
}

}  // namespace
