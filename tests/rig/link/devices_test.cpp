#include <catch2/catch.hpp>
#include <iostream>
#include <sstream>

#include "rig/expectations/user_error.hpp"
#include "rig/link/audio_devices.hpp"
#include "rig/link/library_messages.hpp"
#include "rig/platform/files.hpp"
#include "rig/stimulus/wave_file.hpp"
#include "rig/stimulus/wave_stream.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;

namespace {

audio_device device(std::string api, std::string name, std::size_t out = 8, std::size_t in = 8) {
    return {std::move(api), std::move(name), out, in, {44100.0, 48000.0}, {}};
}

audio_link_settings named(std::string name, std::string api = {}) {
    audio_link_settings out;
    out.device = std::move(name);
    out.api = std::move(api);
    return out;
}

const std::vector<audio_device> some{device("jack", "desk"), device("jack", "desk monitor"),
                                     device("alsa", "hw:Desk,0"), device("alsa", "hw:Stage,0")};

}  // namespace

TEST_CASE("devices: a whole name, or a part that one device has, is enough", "[rig][link]") {
    CHECK(find_device(some, named("desk")).name == "desk");
    CHECK(find_device(some, named("monitor")).name == "desk monitor");
    CHECK(find_device(some, named("STAGE")).name == "hw:Stage,0");
    CHECK(find_device(some, named("desk", "alsa")).name == "hw:Desk,0");
}

TEST_CASE("devices: a name that several or none have is refused with a list", "[rig][link]") {
    CHECK_THROWS_WITH(find_device(some, named("des")),
                      Contains("The name 'des' is a part of several audio devices: 'desk' (jack) "
                               "and 'desk monitor' (jack); write more of the name."));
    CHECK_THROWS_WITH(find_device(some, named("rack")),
                      Contains("There is no audio device 'rack'; there are 'desk' (jack), 'desk "
                               "monitor' (jack), 'hw:Desk,0' (alsa) and 'hw:Stage,0' (alsa)."));
    CHECK_THROWS_WITH(find_device({}, named("rack")),
                      Contains("since there is no audio device at all"));
}

TEST_CASE("devices: what stands against a device is said in phrases", "[rig][link]") {
    using phrases = std::vector<std::string>;
    const sample_rate rate{96000.0};
    CHECK(shortcomings(device("alsa", "x"), 3, 2, sample_rate{48000.0}).empty());
    CHECK(shortcomings(device("alsa", "x", 2, 1), 3, 2, rate) ==
          phrases{"has only 2 outputs, and 3 are needed",
                  "has only 1 input (mono), and 2 are needed",
                  "does not run at 96 kHz, only at 44.1 kHz and 48 kHz"});
    CHECK(shortcomings(device("alsa", "x", 8, 0), 3, 2, sample_rate{48000.0}) ==
          phrases{"has no inputs"});
    auto busy = device("alsa", "x");
    busy.problem = "is busy";
    CHECK(shortcomings(busy, 3, 2, rate) == phrases{"is busy"});
}

TEST_CASE("wave stream: what was written piece by piece is an ordinary WAV file", "[rig][wave]") {
    const temporary_folder folder;
    const auto file = folder.path() / "response.wav";
    const std::vector<std::vector<float>> piece{{0.0F, 1.5F, -2.0F, 9.0F},
                                                {5.0F, 6.0F, 7.0F, 8.0F}};
    {
        wave_sink sink{file, sample_rate{48000.0}, 2};
        sink.write(piece, 1, 4);
        sink.write(piece, 0, 2);
        CHECK_FALSE(std::filesystem::exists(file));
        sink.finish();
    }
    const auto back = read_wave_file(file, 2);
    CHECK(back.channels == std::vector<std::vector<float>>{{1.5F, -2.0F, 9.0F, 0.0F, 1.5F},
                                                           {6.0F, 7.0F, 8.0F, 5.0F, 6.0F}});
    wave_source source{file};
    CHECK(source.frames() == 5);
    CHECK(source.channels() == 2);
    std::vector<std::vector<float>> part(2, std::vector<float>(3));
    source.read(2, part);
    CHECK(part[0] == std::vector<float>{9.0F, 0.0F, 1.5F});
    source.read(0, part);
    CHECK(part[0] == std::vector<float>{1.5F, -2.0F, 9.0F});
    CHECK_THROWS_WITH(source.read(4, part), Contains("cut off"));
}

TEST_CASE("wave stream: an unfinished file leaves nothing", "[rig][wave]") {
    const temporary_folder folder;
    { const wave_sink sink{folder.path() / "response.wav", sample_rate{48000.0}, 2}; }
    CHECK(std::filesystem::is_empty(folder.path()));
    CHECK_THROWS_WITH(wave_source{folder.path() / "none.wav"}, Contains("there is no such file"));
    write_file_atomically(folder.path() / "text.wav", "this is no audio at all");
    CHECK_THROWS_WITH(wave_source{folder.path() / "text.wav"}, Contains("it is not a WAV file"));
    const auto nowhere = folder.path() / "no" / "response.wav";
    CHECK_THROWS_WITH((wave_sink{nowhere, sample_rate{48000.0}, 1}), Contains("cannot write"));
}

TEST_CASE("devices: what a library prints stays off the terminal, and all else goes through",
          "[link]") {
    std::ostringstream terminal;
    auto* const before = std::cerr.rdbuf(terminal.rdbuf());
    {
        const auto quiet = quiet_libraries::keep();
        std::cerr << "one\n";
        std::cerr << "RtApiAlsa::getDeviceInfo: busy.\n" << std::endl;
        std::cerr << "RtAudio alsa: "
                  << "_NOT_ "
                  << "running realtime scheduling" << std::endl;
        std::cerr << "two\n";
    }
    std::cerr.rdbuf(before);
    CHECK(terminal.str() == "one\ntwo\n");
}
