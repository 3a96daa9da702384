// A run folder of a live bench, made by hand, packed and opened in this process.

#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "rig/bench/trim_file.hpp"
#include "rig/evidence/pack_run.hpp"
#include "rig/evidence/taken_over.hpp"
#include "rig/evidence/unpack.hpp"
#include "rig/platform/files.hpp"
#include "rig/report/json.hpp"
#include "rig/run/kept_run.hpp"
#include "rig/run/kept_takes.hpp"
#include "tests/rig/sample_result.hpp"

using namespace cvrig;
using namespace cvrig::evidence;
using Catch::Matchers::Contains;
using Catch::Matchers::WithinAbs;
namespace fs = std::filesystem;

namespace {

std::string bytes_of_file(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

/// A live desk whose trim constants lie in a folder of their own.
struct live_run {
    temporary_folder folder;
    fs::path run = folder.path() / "run";
    fs::path bench_file = folder.path() / "desk.yaml";

    live_run() {
        fs::create_directories(run / "takes");
        fs::create_directories(folder.path() / "zelda constants");
        auto text = bytes_of_file(CVRIG_DEMO "/live.bench.yaml");
        text.replace(text.find("{terminal: \"{console}\"}"), 23, "{tcp: \"zelda-host:5025\"}");
        text += "\ntrim: \"zelda constants/desk.trim.yaml\"\n";
        write_file_atomically(bench_file, text);
        write_trim_file((folder.path() / "zelda constants" / "desk.trim.yaml").string(), trim());
        const auto b = read_bench(bench_file.string());
        REQUIRE(b.trimmed);
        keep_run(run, {{{"tracking"}, {{"mode", "tied"}}}, "7", "good", std::string(64, 'a')}, b);
        fs::copy_file(bench_file, run / "bench.yaml");
        fs::copy_file(CVRIG_DEMO "/ferrule.expectations.yaml", run / "expectations.yaml");
        auto result = testing::sample_result();
        result.expectations_sha256 = result.bench_sha256 = std::string(64, 'b');
        result.build_sha256 = std::string(64, 'c');
        write_file_atomically(run / "report.json", json_report(result));
    }

    static trim_constants trim() {
        trim_constants all{"live desk", "2026-11-25", "zelda's meter", {}, {}};
        trimmed_channel pitch{1, "pitch", {}};
        pitch.trim.volts_per_full_scale = 10.0213;
        pitch.trim.offset = volts{0.0012};
        all.outputs.push_back(pitch);
        return all;
    }

    [[nodiscard]] packed_run pack() const {
        return pack_run(
            {run, folder.path() / "x.cvrig-evidence", false, "0.1.0", {{"zelda"}, {}, {}}});
    }
};

}  // namespace

TEST_CASE("trim constants come along, wherever they lay, and are found again", "[evidence]") {
    const live_run live;
    const auto kept = read_kept_bench(live.run);
    CHECK_THAT(kept.outputs[0].trim.volts_per_full_scale, WithinAbs(10.0213, 1e-12));
    const auto packed = live.pack();
    REQUIRE(packed.what.find("trim.yaml") != nullptr);
    const auto opened = live.folder.path() / "opened";
    (void)unpack(packed.file, opened);
    const auto b = read_kept_bench(opened);
    CHECK_THAT(b.outputs[0].trim.volts_per_full_scale, WithinAbs(10.0213, 1e-12));
    CHECK_THAT(b.outputs[0].trim.offset.value(), WithinAbs(0.0012, 1e-12));
    CHECK(b.trimmed->meter == "<user>'s meter");
    CHECK(b.console->host == "left-out");
    for (const auto& entry : fs::recursive_directory_iterator{opened})
        if (entry.is_regular_file()) CHECK_THAT(bytes_of_file(entry.path()), !Contains("zelda"));
}

TEST_CASE("a console that the command line named does not get into evidence", "[evidence]") {
    const auto host =
        GENERATE(values<std::string>({"bench7.zeldas.example", "zelda7", "[fd00::b7]"}));
    CAPTURE(host);
    const live_run live;
    auto bench_text = bytes_of_file(live.run / "bench.yaml");
    const std::string was = "zelda-host:5025";
    bench_text.replace(bench_text.find(was), was.size(), "{desk}:5025");
    write_file_atomically(live.run / "bench.yaml", bench_text);
    const auto console = "TCP " + host + ":5025";
    auto result = testing::sample_result();
    result.expectations_sha256 = result.bench_sha256 = std::string(64, 'b');
    result.build_sha256.clear();
    result.link = "8 channels; console: " + console;
    result.bench.facts.push_back("console on " + console);
    result.bench.cannot_exclude.push_back("The console (" + console + ") went away; is " + host +
                                          " up?");
    write_file_atomically(live.run / "report.json", json_report(result));
    write_file_atomically(live.run / "run.log", "2026-11-25T23:59:59.250 info bench: console on " +
                                                    console + "\nwarn " + host + " is gone\n");
    const auto packed = live.pack();
    const auto opened = live.folder.path() / "opened";
    (void)unpack(packed.file, opened);
    CHECK_THAT(bytes_of_file(opened / "run.log"), Contains("console on TCP"));
    for (const auto& entry : fs::recursive_directory_iterator{opened}) {
        if (!entry.is_regular_file()) continue;
        CAPTURE(entry.path());
        CHECK_THAT(bytes_of_file(entry.path()),
                   !Contains("zelda") && !Contains("bench7") && !Contains("fd00"));
    }
}

TEST_CASE("a console that only the facts tell of does not get into evidence", "[evidence]") {
    const live_run live;
    auto bench_text = bytes_of_file(live.run / "bench.yaml");
    const std::string was = "zelda-host:5025";
    bench_text.replace(bench_text.find(was), was.size(), "{desk}:5025");
    write_file_atomically(live.run / "bench.yaml", bench_text);
    write_file_atomically(live.run / "facts.json",
                          R"({"format": "cvrig facts 1", "no_image": "none",
        "console": {"log": "+0.000 s * the console is open (zelda7:5025)\n+0.1 s < zelda7 is up"}})");
    const auto opened = live.folder.path() / "opened";
    (void)unpack(live.pack().file, opened);
    CHECK_THAT(bytes_of_file(opened / "facts.json"), Contains("<host> is up"));
    CHECK_THAT(bytes_of_file(opened / "facts.json"), !Contains("zelda"));
}

TEST_CASE("what a run was asked comes along", "[evidence]") {
    const live_run live;
    const auto opened = live.folder.path() / "opened";
    (void)unpack(live.pack().file, opened);
    const auto asked = read_kept_run(opened);
    CHECK(asked.filter.checks == std::vector<std::string>{"tracking"});
    CHECK(asked.filter.settings == setting_choice{{"mode", "tied"}});
    CHECK(asked.unit == "7");
    CHECK(asked.build_name == "good");
}

TEST_CASE("a report on opened evidence is one on the files as they were", "[evidence]") {
    const live_run live;
    const auto opened = live.folder.path() / "opened";
    const auto packed = live.pack();
    const auto out = unpack(packed.file, opened);
    CHECK(out.what.bench_sha256 == std::string(64, 'b'));
    told_run told = out.told;
    told.bench_sha256 = packed.what.find("bench.yaml")->sha256;
    told.expectations_sha256 = "those of another file";
    name_originals(told, opened);
    CHECK(told.bench_sha256 == std::string(64, 'b'));
    CHECK(told.expectations_sha256 == "those of another file");
    name_originals(told, live.folder.path());  // no evidence was opened there
}

TEST_CASE("words of the expectation file that look personal stay, and are told", "[evidence]") {
    const live_run live;
    auto text = bytes_of_file(live.run / "expectations.yaml");
    const std::string was = "Turn SLIDE fully {value}";
    text.replace(text.find(was), was.size(), "Ask zelda to turn SLIDE fully {value}");
    write_file_atomically(live.run / "expectations.yaml", text);
    const auto packed = live.pack();
    REQUIRE(packed.stays.size() == 1);
    CHECK_THAT(packed.stays[0], Contains("expectation file"));
    const live_run other;
    CHECK(other.pack().stays.empty());
}

TEST_CASE("an evidence file is named after what was judged", "[evidence]") {
    manifest m;
    CHECK(evidence_name(m) == "run.cvrig-evidence");
    m.module = "Ferrule";
    m.unit = "7";
    CHECK(evidence_name(m) == "Ferrule-7.cvrig-evidence");
    m.unit = "../../x";
    CHECK(evidence_name(m).find('/') == std::string::npos);
}

TEST_CASE("a stimulus that was rounded is taken for the same, another is not", "[evidence]") {
    const temporary_folder folder;
    take t;
    t.sent = {sample_rate{48000.0}, {"pitch"}, {{1.0F / 3.0F, 2.0F / 3.0F}}};
    t.heard_jacks = {"left"};
    t.heard = {{0.1F, 0.2F}};
    t.choice = {{"mode", "tied"}};
    keep_take(folder.path(), t);
    kept_link kept{folder.path()};
    const auto plays = [&](float by) {
        auto sent = t.sent;
        sent.volts[0][1] += by;
        return [&kept, sent, &t] { (void)kept.play(sent, t.choice, 1, 1); };
    };
    CHECK_NOTHROW(plays(0.0F)());
    CHECK_THROWS_AS(plays(1e-6F)(), user_error);
    const auto file = folder.path() / "takes" / "mode=tied,attempt=1" / "take.json";
    auto text = bytes_of_file(file);
    text.replace(text.find('{'), 1, "{\"sent_within_volts\": 2e-6,");
    write_file_atomically(file, text);
    CHECK_NOTHROW(plays(1e-6F)());
    CHECK_THROWS_AS(plays(1e-5F)(), user_error);
    text.replace(text.find("2e-6"), 4, "-1.0");
    write_file_atomically(file, text);
    CHECK_THROWS_WITH(plays(0.0F)(), Contains("not the description"));
}
