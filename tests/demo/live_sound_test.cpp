#include "console_client.hpp"
#include "demo/arguments.hpp"
#include "jack_player.hpp"
#include "playing.hpp"
#include "tests/support/live_bench.hpp"

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <optional>
#include <string>
#include <thread>
#include <vector>

using Catch::Matchers::WithinAbs;
using cvrig::test_support::live_bench;
using cvrig::test_support::live_bench_settings;
using live::console_client;
using live::jack_player;

namespace {

constexpr std::size_t block = 256;
constexpr double rate_hertz = 48000.0;

using channels = std::vector<std::vector<float>>;

/// Faster than the clock for as long as this lives.
class in_freewheel {
public:
    explicit in_freewheel(live_bench& bench) : bench_{bench} { bench_.tell_desk("freewheel on"); }
    ~in_freewheel() { bench_.ask_desk("freewheel off"); }
    in_freewheel(const in_freewheel&) = delete;
    in_freewheel& operator=(const in_freewheel&) = delete;

private:
    live_bench& bench_;
};

channels holding(std::initializer_list<float> volts, double seconds) {
    channels made;
    for (const float v : volts) {
        made.emplace_back(static_cast<std::size_t>(seconds * rate_hertz), v);
    }
    return made;
}

channels split(const ferrule::sound& from) {
    const auto count = static_cast<std::size_t>(from.channels);
    channels made(count);
    for (std::size_t i = 0; i < from.samples.size(); ++i) {
        made[i % count].push_back(from.samples[i]);
    }
    return made;
}

ferrule::sound join(const channels& from, std::size_t begin, std::size_t frames) {
    ferrule::sound made{48000, static_cast<int>(from.size()), {}};
    for (std::size_t i = begin; i < begin + frames; ++i) {
        for (const auto& channel : from) made.samples.push_back(channel[i]);
    }
    return made;
}

/// A tune over all six jacks for `seconds`.
ferrule::sound tune(double seconds) {
    using ferrule::jack;
    playing::score score{seconds};
    for (double t = 0.5; t < seconds - 0.6; t += 0.5) {
        score.gate(t, t + 0.35).set(jack::pitch, t, std::fmod(t * 1.7, 4.0));
        score.set(jack::accent, t, std::fmod(t, 1.0) < 0.4 ? 5.0 : 0.0);
        score.set(jack::slide, t + 0.2, 5.0).set(jack::pitch, t + 0.2, std::fmod(t, 3.0));
        score.set(jack::slide, t + 0.4, 0.0).set(jack::cutoff, t, std::fmod(t * 0.7, 2.0));
    }
    return score.stimulus();
}

/// Where silence to the bit, that lasts for at least a quarter of a second, ends.
std::optional<std::size_t> end_of_silence(const std::vector<float>& heard) {
    std::size_t silent = 0;
    for (std::size_t i = 0; i < heard.size(); ++i) {
        if (heard[i] != 0.0F && silent > 12000) return i;
        silent = heard[i] == 0.0F ? silent + 1 : 0;
    }
    return std::nullopt;
}

}  // namespace

TEST_CASE("live sound is offline sound, sample for sample", "[live]") {
    live_bench_settings settings;
    settings.cables = "none";
    settings.back = "none";
    settings.module_arguments = {"unit=7", "mode=wide", "waveform=blend", "cutoff knob=0.3"};
    live_bench bench{settings};
    console_client console{bench.console()};
    jack_player player{bench.server(),
                       {"ferrule:pitch", "ferrule:gate", "ferrule:accent", "ferrule:slide",
                        "ferrule:cutoff", "ferrule:decay"},
                       {"ferrule:left", "ferrule:right"}};
    const auto sent = split(tune(60.0));
    channels heard;
    std::optional<std::size_t> start;
    // A busy machine may notice the reboot's line only when the tune is over.
    for (int tries = 0; tries < 20 && !start; ++tries) {
        const in_freewheel fast{bench};
        const std::jthread reboots{[&] {
            while (!player.is_playing()) std::this_thread::yield();
            console.send("SYST:REB");
        }};
        heard = player.exchange(sent);
        start = end_of_silence(heard[0]);
        if (start && *start + 5 * 48000 > heard[0].size()) start.reset();
    }
    REQUIRE(start.has_value());
    REQUIRE(*start > block);
    // What came with frame n was played one block earlier.
    const auto frames = heard[0].size() - *start;
    const std::vector<std::string> words{"unit=7", "mode=wide", "waveform=blend",
                                         "cutoff knob=0.3"};
    const auto offline =
        ferrule::render(join(sent, *start - block, frames),
                        ferrule::plan_of(ferrule::parse_arguments(words), rate_hertz), {});
    CHECK(join(heard, *start, frames).samples == offline.samples);
}

TEST_CASE("a cable between two sockets takes two blocks from end to end", "[live]") {
    live_bench_settings settings;
    settings.with_module = false;
    settings.cables = "none";
    settings.back = "none";
    live_bench bench{settings};
    jack_player player{bench.server(), {"desk:playback_7"}, {"desk:capture_3"}};
    std::vector<float> counter(30 * 48000);
    for (std::size_t i = 0; i < counter.size(); ++i) {
        counter[i] = static_cast<float>(i % 65536) / 65536.0F;
    }
    channels heard;
    {
        const in_freewheel fast{bench};
        heard = player.exchange({counter});
    }
    // Ten volts are a factor that single precision rounds twice: 2 of 2^-24.
    for (std::size_t i = 2 * block; i < counter.size(); ++i) {
        REQUIRE_THAT(heard[0][i], WithinAbs(counter[i - 2 * block], 1.3e-7));
    }
}

TEST_CASE("cables can be exchanged, and faults told, while the interface runs", "[live]") {
    live_bench_settings settings;
    settings.with_module = false;
    settings.cables = "none";
    settings.back = "none";
    settings.loop = "1:1,2:2";
    live_bench bench{settings};
    jack_player player{bench.server(),
                       {"desk:playback_1", "desk:playback_2"},
                       {"desk:capture_1", "desk:capture_2"}};
    const auto last = [&] {
        const auto heard = player.exchange(holding({0.1F, 0.2F}, 0.2));
        return std::array<float, 2>{heard[0].back(), heard[1].back()};
    };
    CHECK(last() == std::array<float, 2>{0.1F, 0.2F});
    bench.tell_desk("loop 1:2,2:1");
    CHECK(last() == std::array<float, 2>{0.2F, 0.1F});
    bench.tell_desk("loop 1:1");
    CHECK(last() == std::array<float, 2>{0.1F, 0.0F});
    bench.tell_desk("fault inverted@out_1:1");
    CHECK(last() == std::array<float, 2>{-0.1F, 0.0F});
    bench.tell_desk("clear");
    CHECK(last() == std::array<float, 2>{0.1F, 0.0F});
    CHECK(bench.ask_desk("fault wobble:1").starts_with("no: There is no fault"));
    CHECK(bench.ask_desk("loop 9:1").starts_with("no: "));
    bench.tell_desk("stall 0.2");
    CHECK(last() == std::array<float, 2>{0.1F, 0.0F});
}

TEST_CASE("one output can be left alone with the sound", "[live]") {
    live_bench bench;
    console_client console{bench.console()};
    jack_player player{bench.server(),
                       {"desk:playback_1", "desk:playback_2"},
                       {"desk:capture_1", "desk:capture_2"}};
    const auto heard_after = [&](const std::string& line) {
        REQUIRE(console.ask(line + ";*OPC?") == "1");
        const auto heard = player.exchange(holding({0.1F, 0.5F}, 0.5));
        std::array<double, 2> level{};
        for (std::size_t i = 0; i < 2; ++i) {
            const std::vector<double> wave(heard[i].begin() + 9600, heard[i].end());
            level[i] = playing::rms(wave);
        }
        return level;
    };
    // Full scale is 10 V, and the sound some volts.
    const auto both = heard_after("OUTP:ROUT BOTH");
    CHECK(both[0] > 0.05);
    CHECK(both[1] > 0.05);
    const auto left = heard_after("OUTP:ROUT LEFT");
    CHECK(left[0] > 0.05);
    CHECK(left[1] == 0.0);
    const auto right = heard_after("OUTP:ROUT RIGHT");
    CHECK(right[0] == 0.0);
    CHECK(right[1] > 0.05);
}

TEST_CASE("a unit is calibrated from the voltages at its jack", "[live]") {
    live_bench_settings settings;
    settings.module_arguments = {"unit=5"};
    live_bench bench{settings};
    console_client console{bench.console()};
    jack_player player{bench.server(), {"desk:playback_1"}, {"desk:capture_1"}};
    const auto press_at = [&](float volts, const std::string& point) {
        player.hold({volts / 10.0F});
        REQUIRE(console.ask("CAL:POIN " + point + ";*OPC?") == "1");
    };
    const auto factory = console.ask("CAL:CONS?");
    press_at(1.0F, "1");
    press_at(2.0F, "2");
    SECTION("as the program calibrates itself") {
        press_at(3.0F, "3");
        REQUIRE(console.ask("CAL:STOR;:SYST:ERR?") == "0,\"No error\"");
        const auto offline = ferrule::calibrate(ferrule::make_specimen(5), 1);
        const auto live = console.ask("CAL:CONS?");
        const auto comma = live.find(',');
        // Converter noise of 80 uV over 4104 readings is 1.25 uV in each point. Through points at 1, 2
        // and 3 V that is 1.9 uV at 0 V (times sqrt(1/3 + 2^2/2)) and 4.8 uV of the whole range of
        // 5.47 V (times 5.47/sqrt(2)); two calibrations differ by sqrt(2) times as much, and four
        // standard deviations are allowed.
        CHECK_THAT(std::stod(live.substr(0, comma)), WithinAbs(offline.offset_volts, 1.1e-5));
        CHECK_THAT(std::stod(live.substr(comma + 1)) * 65535.0,
                   WithinAbs(offline.slope_volts_per_code * 65535.0, 2.8e-5));
        CHECK(console.ask("CAL:REST;CONS?") == factory);
    }
    SECTION("unless the voltages are not those of the points") {
        press_at(2.5F, "3");
        CHECK(console.ask("CAL:STOR;:SYST:ERR?").starts_with("-231,\"Data questionable"));
        CHECK(console.ask("CAL:CONS?") == factory);
    }
}

TEST_CASE("a stalled callback is late, and the module goes on", "[live]") {
    const live_bench bench;
    console_client console{bench.console()};
    CHECK(console.ask("DIAG:STAL 0.1;*OPC?") == "1");
    CHECK(console.ask("VOIC:MODE wide;MODE?") == "WIDE");
}
