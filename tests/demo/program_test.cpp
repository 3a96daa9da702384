#include "demo/sound_file.hpp"
#include "playing.hpp"

#include <sys/wait.h>

#include <algorithm>
#include <array>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>

using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
using ferrule::jack;

namespace {

struct answer {
    int status;
    std::string text;
};

/// Runs the program and gathers both of its streams.
answer ferrule_with(const std::string& words) {
    const std::string line = std::string{"\""} + FERRULE_PROGRAM + "\" " + words + " 2>&1";
    FILE* pipe = ::popen(line.c_str(), "r");
    REQUIRE(pipe != nullptr);
    answer heard{0, {}};
    std::array<char, 256> piece{};
    while (std::fgets(piece.data(), static_cast<int>(piece.size()), pipe) != nullptr) {
        heard.text += piece.data();
    }
    heard.status = WEXITSTATUS(::pclose(pipe));
    return heard;
}

/// A folder of its own for every test, gone afterwards.
class scratch {
public:
    scratch() {
        std::string pattern = (std::filesystem::temp_directory_path() / "ferrule-XXXXXX").string();
        REQUIRE(::mkdtemp(pattern.data()) != nullptr);
        folder_ = pattern;
    }
    ~scratch() { std::filesystem::remove_all(folder_); }
    scratch(const scratch&) = delete;
    scratch& operator=(const scratch&) = delete;

    [[nodiscard]] std::string path(const std::string& name) const {
        return (folder_ / name).string();
    }

private:
    std::filesystem::path folder_;
};

ferrule::sound one_note(double volts) {
    playing::score score{1.2};
    return score.set(jack::pitch, 0.0, volts).gate(0.1, 1.2).stimulus();
}

double error_cents(const ferrule::sound& heard, double volts) {
    const auto tone = playing::channel(heard, 0, 0.3, 1.2);
    return playing::cents_above(playing::frequency_hertz(tone, heard.rate_hertz), volts);
}

}  // namespace

TEST_CASE("the program plays a stimulus file into a response file of the same length", "[demo]") {
    const scratch folder;
    ferrule::write_sound(folder.path("in.wav"), one_note(1.0));
    const auto ran = ferrule_with("render " + folder.path("in.wav") + " " + folder.path("out.wav") +
                                  " mode=wide waveform=square 'cutoff knob=0.7' 'slide knob=down'");
    CAPTURE(ran.text);
    REQUIRE(ran.status == 0);
    CHECK(ran.text.empty());
    const auto heard = ferrule::read_sound(folder.path("out.wav"));
    CHECK(heard.frames() == one_note(1.0).frames());
    CHECK(heard.channels == 2);
    CHECK(heard.rate_hertz == 48000);
    CHECK_THAT(error_cents(heard, 1.0), WithinAbs(0.0, 1.0));
    CHECK_FALSE(std::filesystem::exists(folder.path("out.wav.part")));
}

TEST_CASE("a unit is out of tune until it is calibrated, and then within a cent", "[demo]") {
    const scratch folder;
    ferrule::write_sound(folder.path("in.wav"), one_note(3.0));
    const auto render = "render " + folder.path("in.wav") + " " + folder.path("out.wav") +
                        " unit=5 state=" + folder.path("flash");
    REQUIRE(ferrule_with(render).status == 0);
    CHECK(std::abs(error_cents(ferrule::read_sound(folder.path("out.wav")), 3.0)) > 4.0);
    REQUIRE(ferrule_with("calibrate unit=5 state=" + folder.path("flash")).status == 0);
    REQUIRE(ferrule_with(render).status == 0);
    CHECK_THAT(error_cents(ferrule::read_sound(folder.path("out.wav")), 3.0), WithinAbs(0.0, 1.0));
}

TEST_CASE("an image brings its faults and an argument adds to them", "[demo]") {
    const scratch folder;
    ferrule::write_sound(folder.path("in.wav"), one_note(3.5));
    std::ofstream{folder.path("build.ferrule")}
        << "ferrule image 1\nversion: 9.9.1\nname: test\nnote: sharp\nfault: pitch-offset 20\n";
    const auto ran = ferrule_with("render " + folder.path("in.wav") + " " + folder.path("out.wav") +
                                  " fault=pitch-octave:1 image=" + folder.path("build.ferrule"));
    REQUIRE(ran.status == 0);
    CHECK_THAT(error_cents(ferrule::read_sound(folder.path("out.wav")), 3.5),
               WithinAbs(1220.0, 1.0));
    // IEEE 488.2: maker, model, serial number, version, with commas between them.
    CHECK(ferrule_with("identify unit=12 image=" + folder.path("build.ferrule")).text ==
          "cvrig demo,Ferrule,0012,9.9.1\n");
}

TEST_CASE("every build that comes with Ferrule can be read", "[demo]") {
    int builds = 0;
    for (const auto& entry : std::filesystem::directory_iterator{FERRULE_BUILDS}) {
        const auto ran = ferrule_with("identify \"image=" + entry.path().string() + "\"");
        CAPTURE(entry.path().string(), ran.text);
        CHECK(ran.status == 0);
        CHECK_THAT(ran.text, Contains("cvrig demo,Ferrule,0001,1."));
        ++builds;
    }
    CHECK(builds >= 9);
}

TEST_CASE("what cannot be done is refused in one sentence with status 2", "[demo]") {
    struct refusal {
        std::string words;
        std::string says;
    };
    const scratch folder;
    ferrule::write_sound(folder.path("in.wav"), one_note(0.0));
    std::ofstream{folder.path("bad.ferrule")} << "ferrule image 1\nversion: 1\nfault: wobble 1\n";
    std::ofstream{folder.path("flash")} << "ferrule flash 1\ncolour=red\n";
    const auto files = "render " + folder.path("in.wav") + " " + folder.path("out.wav") + " ";
    const std::array<refusal, 12> refusals{{
        {"", "Say what to do"},
        {"sing", "Say what to do"},
        {"render " + folder.path("in.wav"), "needs a stimulus file"},
        {"render " + folder.path("none.wav") + " " + folder.path("out.wav"), "cannot be read"},
        {files + "mode=loose", "There is no mode \"loose\"; choose one of tied, struck, wide."},
        {files + "colour=red", "There is no argument \"colour\""},
        {files + "'cutoff knob=2'", "must lie from 0 to 1"},
        {files + "jacks=pitch,pitch", "named twice"},
        {files + "jacks=pitch,gate", "has 6 channels, but jacks= names only 2"},
        {files + "fault=wobble:1", "There is no fault \"wobble\""},
        {files + "image=" + folder.path("bad.ferrule"), "bad.ferrule:3: There is no fault"},
        {files + "state=" + folder.path("flash"), "flash:2: \"colour\""},
    }};
    for (const auto& row : refusals) {
        const auto ran = ferrule_with(row.words);
        CAPTURE(row.words);
        CHECK(ran.status == 2);
        CHECK_THAT(ran.text, Contains(row.says));
        CHECK(std::count(ran.text.begin(), ran.text.end(), '\n') == 1);
    }
    CHECK_FALSE(std::filesystem::exists(folder.path("out.wav")));
}

TEST_CASE("the program lists every fault", "[demo]") {
    const auto ran = ferrule_with("faults");
    CHECK(ran.status == 0);
    for (const auto& known : ferrule::all_faults()) {
        CHECK_THAT(ran.text, Contains(std::string{known.name} + " "));
    }
}
