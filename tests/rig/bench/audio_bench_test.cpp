#include <catch2/catch.hpp>

#include "rig/bench/bench.hpp"
#include "rig/bench/trim_file.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/expectations/files.hpp"

using namespace cvrig;
using Catch::Matchers::Contains;

namespace {

const std::string complete =
    "format: cvrig bench 1\n"
    "name: desk\n"
    "link: {audio: desk, api: jack, rate: 48 kHz, block: 256, blocks: 4, round trip: 12 ms}\n"
    "outputs:\n"
    "  - {jack: pitch, channel: 2, limits: -0.1 V to 5 V, full scale: -10.2 V, offset: 2 mV, "
    "socket: OUT 2}\n"
    "  - {jack: gate, channel: 1}\n"
    "inputs: [{jack: left, channel: 3, full scale: 9.9 V}, {jack: right, channel: 1}]\n"
    "loop-back: {output: 7, input: 4, level: 1 V, output full scale: 10 V, input full scale: 5 V}\n"
    "trim: desk.trim.yaml\n";

std::vector<std::string> said(const std::string& what, const std::string& with) {
    return complaints_about_bench(edited(complete, what, with));
}

/// A bench file in a folder of its own.
class bench_folder {
public:
    explicit bench_folder(const std::string& text) {
        write_file_atomically(folder_.path() / "desk.bench.yaml", text);
    }
    [[nodiscard]] std::string bench_file() const {
        return (folder_.path() / "desk.bench.yaml").string();
    }
    [[nodiscard]] std::string trim_file() const {
        return (folder_.path() / "desk.trim.yaml").string();
    }

private:
    temporary_folder folder_;
};

trim_constants some_constants() {
    trim_constants out;
    out.bench = "desk";
    out.date = "2026-11-25";
    out.meter = "bench meter, \"6 1/2\" digits";
    channel_trim t;
    t.volts_per_full_scale = 10.1 + 1.0 / 3.0;
    t.offset = volts{-0.0012345678901234567};
    t.u_volts_per_full_scale = 3e-4;
    t.u_offset = volts{1e-5};
    t.covariance_volts_squared = -1e-9;
    out.outputs = {{1, "gate", t}, {7, "loop-back", t}};
    out.inputs = {{3, "left", t}};
    return out;
}

}  // namespace

TEST_CASE("audio bench: a complete file is read as it says", "[rig][bench]") {
    const bench_folder folder{complete};
    const auto b = read_bench(folder.bench_file());
    REQUIRE(b.audio);
    CHECK(b.audio->device == "desk");
    CHECK(b.audio->api == "jack");
    CHECK(b.rate() == sample_rate{48000.0});
    CHECK(b.audio->block_frames == 256);
    CHECK(b.audio->blocks == 4);
    CHECK(b.audio->round_trip == seconds{0.012});
    CHECK_FALSE(b.audio->simulated);
    CHECK(b.outputs[0].channel == 2);
    CHECK(b.outputs[0].trim.volts_per_full_scale == -10.2);
    CHECK(b.outputs[0].trim.offset == volts{0.002});
    CHECK(b.outputs[0].socket == "OUT 2");
    CHECK(b.outputs[1].channel == 1);
    CHECK(b.inputs[0].trim.volts_per_full_scale == 9.9);
    REQUIRE(b.loop);
    CHECK(b.loop->output_channel == 7);
    CHECK(b.loop->input_trim.volts_per_full_scale == 5.0);
    CHECK(b.trim_file == folder.trim_file());
    CHECK_FALSE(b.trimmed);
}

TEST_CASE("audio bench: the place in the list is the channel, if nothing else is said",
          "[rig][bench]") {
    const bench_folder folder{
        edited(edited(complete, ", channel: 2", ""), "gate, channel: 1", "gate")};
    const auto b = read_bench(folder.bench_file());
    CHECK(b.outputs[0].channel == 1);
    CHECK(b.outputs[1].channel == 2);
}

TEST_CASE("audio bench: what cannot be is refused with its place", "[rig][bench]") {
    using sentences = std::vector<std::string>;
    CHECK(said("gate, channel: 1", "gate, channel: 2") ==
          sentences{"6:5: Jack 'gate' would use output channel 2, which jack 'pitch' has already; "
                    "give one of the two another 'channel'."});
    CHECK(said("output: 7", "output: 2") ==
          sentences{"8:12: The loop-back would use output channel 2, which jack 'pitch' has "
                    "already; give one of the two another 'channel'."});
    CHECK(said("input: 4", "input: 3") ==
          sentences{"8:12: The loop-back would use input channel 3, which jack 'left' has already; "
                    "give one of the two another 'channel'."});
    CHECK(said("48 kHz", "22.05 kHz") ==
          sentences{"3:38: 'rate' of an interface must be a whole number of Hz from 44.1 kHz to "
                    "192 kHz, and here is 22.05 kHz."});
    CHECK(said("block: 256", "block: 16") ==
          sentences{"3:53: 'block' must be a whole number from 32 to 4096, and here is 16."});
    CHECK(said("full scale: 9.9 V", "full scale: 0 V").size() == 1);
    CHECK(said("level: 1 V", "level: 4.6 V") ==
          sentences{"8:41: The loop-back's 'level' must be from 10 mV to 4.5 V (0.9 of the smaller "
                    "full scale), and it is 4.6 V."});
    CHECK(said("api: jack", "api: jak") ==
          sentences{"3:26: 'jak' is not a way to reach an audio interface (one of: jack, alsa, "
                    "pulse, core, oss, wasapi, asio, ds); did you mean 'jack'?"});
    CHECK(
        said("round trip", "round trp").front() ==
        "3:69: 'round trp' is not a key of 'link' (one of: audio, api, rate, block, blocks, round "
        "trip, simulated); did you mean 'round trip'?");
    CHECK(
        said("-0.1 V to 5 V", "-0.1 V to 11 V") ==
        sentences{"5:39: '-0.1 V to 11 V' is more than this channel can give, which is -10.2 V to "
                  "10.2 V by its 'full scale' and 'offset'."});
}

TEST_CASE("audio bench: all mistakes are told at once", "[rig][bench]") {
    auto text = edited(complete, "48 kHz", "1 kHz");
    text = edited(text, "block: 256", "block: 1");
    text = edited(text, "full scale: 9.9 V", "full scale: 0 V");
    text = edited(text, "output: 7", "output: 2");
    CHECK(complaints_about_bench(text).size() == 4);
}

TEST_CASE("audio bench: a simulated interface needs a loop-back", "[rig][bench]") {
    auto text = edited(complete, "round trip: 12 ms", "simulated: yes");
    CHECK(complaints_about_bench(text).empty());
    text =
        edited(text,
               "loop-back: {output: 7, input: 4, level: 1 V, output full scale: 10 V, input full "
               "scale: 5 V}\n",
               "");
    REQUIRE(complaints_about_bench(text).size() == 1);
    CHECK_THAT(complaints_about_bench(text)[0],
               Contains("A simulated interface needs a 'loop-back'"));
}

TEST_CASE("audio bench: default limits stay within what a channel can give", "[rig][bench]") {
    const bench_folder folder{
        edited(complete, "gate, channel: 1", "gate, channel: 1, full scale: 4 V")};
    const auto b = read_bench(folder.bench_file());
    CHECK(b.outputs[1].lowest == volts{-0.1});
    CHECK(b.outputs[1].highest == volts{4.0});
}

TEST_CASE("audio bench: a setting that nothing can set is a mismatch", "[rig][bench]") {
    const bench_folder folder{
        edited(complete, "  - {jack: gate, channel: 1}\n",
               "  - {jack: gate, channel: 1}\n  - {jack: accent}\n  - {jack: slide, channel: 4}\n  "
               "- {jack: cutoff, channel: 5}\n")};
    auto b = read_bench(folder.bench_file());
    auto m = read_text(data_text("expectations/complete.yaml"));
    for (auto& s : m.settings) s.operator_instruction = "Set it";
    CHECK(mismatches(b, m).empty());
    m.settings.front().operator_instruction.reset();
    m.settings.front().console = "MODE {value}";
    REQUIRE(mismatches(b, m).size() == 1);
    CHECK_THAT(mismatches(b, m)[0].sentence, Contains("add 'console' to bench 'desk'"));
    b.console.emplace();
    CHECK(mismatches(b, m).empty());
    m.settings.front().console.reset();
    REQUIRE(mismatches(b, m).size() == 1);
    CHECK_THAT(mismatches(b, m)[0].sentence, Contains("Nothing on this bench can set "));
}

TEST_CASE("trim file: what was written is read back to the bit and used", "[rig][bench]") {
    const bench_folder folder{complete};
    const auto sent = some_constants();
    write_trim_file(folder.trim_file(), sent);
    const auto back = read_trim_file(folder.trim_file());
    CHECK(back.bench == sent.bench);
    CHECK(back.date == sent.date);
    CHECK(back.meter == sent.meter);
    REQUIRE(back.outputs.size() == 2);
    const auto& t = back.outputs[1].trim;
    const auto& wanted = sent.outputs[1].trim;
    CHECK(back.outputs[1].channel == 7);
    CHECK(t.volts_per_full_scale == wanted.volts_per_full_scale);
    CHECK(t.offset == wanted.offset);
    CHECK(t.u_volts_per_full_scale == wanted.u_volts_per_full_scale);
    CHECK(t.u_offset == wanted.u_offset);
    CHECK(t.covariance_volts_squared == wanted.covariance_volts_squared);

    const auto b = read_bench(folder.bench_file());
    REQUIRE(b.trimmed);
    CHECK(b.trimmed->date == "2026-11-25");
    CHECK(b.outputs[0].trim.volts_per_full_scale == -10.2);  // channel 2 was not trimmed
    CHECK(b.outputs[1].trim.volts_per_full_scale == wanted.volts_per_full_scale);
    CHECK(b.inputs[0].trim.offset == wanted.offset);
    CHECK(b.loop->output_trim.u_offset == wanted.u_offset);
    CHECK_FALSE(b.loop->trimmed_as_one);  // its input keeps constants from elsewhere
    CHECK(b.loop->input_trim.volts_per_full_scale == 5.0);
}

TEST_CASE("trim file: a channel that was left out keeps its constants and their date",
          "[rig][bench]") {
    auto earlier = some_constants();
    earlier.date = "2026-10-01";
    trim_constants again;
    again.bench = earlier.bench;
    again.date = "2026-11-25";
    again.outputs = {earlier.outputs.front()};
    again.outputs.front().trim.volts_per_full_scale = 9.9;
    const auto all = merged(earlier, again);
    REQUIRE(all.outputs.size() == earlier.outputs.size());
    CHECK(all.date == "2026-11-25");
    CHECK(all.inputs.size() == earlier.inputs.size());
    const bench_folder folder{complete};
    write_trim_file(folder.trim_file(), all);
    const auto back = read_trim_file(folder.trim_file());
    for (const auto& o : back.outputs) {
        const bool measured = o.channel == again.outputs.front().channel;
        CHECK(o.date == (measured ? "" : "2026-10-01"));
        if (measured) CHECK(o.trim.volts_per_full_scale == 9.9);
    }
}

TEST_CASE("trim file: constants that cannot be this bench's are refused", "[rig][bench]") {
    const bench_folder folder{complete};
    auto wrong = some_constants();
    wrong.bench = "stage";
    write_trim_file(folder.trim_file(), wrong);
    CHECK_THROWS_WITH(read_bench(folder.bench_file()),
                      Contains("This is the trim of bench 'stage', not of 'desk'"));
    wrong = some_constants();
    wrong.outputs[0].trim.volts_per_full_scale = 2.0;
    write_trim_file(folder.trim_file(), wrong);
    CHECK_THROWS_WITH(read_bench(folder.bench_file()),
                      Contains("output channel 1 cannot reach the limits of jack 'gate'"));
    wrong = some_constants();
    wrong.outputs[0].trim.covariance_volts_squared = 1.0;
    wrong.outputs[1].channel = 1;
    write_trim_file(folder.trim_file(), wrong);
    try {
        (void)read_trim_file(folder.trim_file());
        FAIL("it was read");
    } catch (const user_error& e) {
        CHECK(e.complaints().size() == 2);
    }
}
