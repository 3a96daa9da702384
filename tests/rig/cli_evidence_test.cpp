// The real program packing a run, and somebody else opening it.

#include <fmt/format.h>
#include <unistd.h>
#include <array>
#include <cmath>
#include <nlohmann/json.hpp>

#include "rig/evidence/archive.hpp"
#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

/// Every member's bytes, unpacked; the names among them.
std::string everything_in(const fs::path& file) {
    evidence::archive_reader from{file};
    std::string all;
    while (const auto name = from.next())
        all += fmt::format("{}\n{}\n", *name, from.text(100'000'000));
    return all;
}

struct packed_desk : desk {
    fs::path file = folder.path() / "unit.cvrig-evidence";
    fs::path opened = folder.path() / "opened";

    explicit packed_desk(const std::string& command = good_program(),
                         std::vector<std::string> more = {}, int status = 0)
        : desk{command} {
        more.insert(more.end(), {"--keep-takes", "--quiet", "--unit", "7"});
        REQUIRE(run(more).status == status);
    }
    [[nodiscard]] ended pack(std::vector<std::string> more = {}) const {
        more.insert(more.begin(), {"pack", report.string(), "-o", file.string()});
        return cvrig_with(more);
    }
    [[nodiscard]] ended open(std::vector<std::string> more = {}) const {
        more.insert(more.begin(), {"open", file.string(), "-r", opened.string()});
        return cvrig_with(more);
    }
};

/// Every reading of two reports, side by side.
void check_close(const fs::path& one, const fs::path& other, double of_uncertainty) {
    const auto a = json::parse(read(one)), b = json::parse(read(other));
    std::size_t readings = 0;
    REQUIRE(a.at("checks").size() == b.at("checks").size());
    for (std::size_t c = 0; c < a.at("checks").size(); ++c) {
        const auto& first = a.at("checks").at(c).at("findings");
        const auto& second = b.at("checks").at(c).at("findings");
        REQUIRE(first.size() == second.size());
        for (std::size_t f = 0; f < first.size(); ++f) {
            CHECK(first.at(f).at("verdict") == second.at(f).at("verdict"));
            if (!first.at(f).contains("reading")) continue;
            const auto& was = first.at(f).at("reading");
            const auto& is = second.at(f).at("reading");
            const double u = was.at("standard_uncertainty").get<double>();
            CAPTURE(first.at(f).at("name").get<std::string>(), u);
            CHECK(std::abs(was.at("value").get<double>() - is.at("value").get<double>()) <=
                  of_uncertainty * u);
            ++readings;
        }
    }
    CHECK(readings > 0);
}

}  // namespace

TEST_CASE("program: a packed run is opened, read again alike, and passes", "[cli]") {
    const packed_desk d;
    const auto packed = d.pack();
    CAPTURE(packed.out, packed.err);
    REQUIRE(packed.status == 0);
    CHECK_THAT(packed.out, Contains("Ferrule, unit 7: 1 take") && Contains("Fingerprint: "));
    const auto opened = d.open();
    CAPTURE(opened.out, opened.err);
    CHECK(opened.status == 0);
    CHECK_THAT(opened.out, Contains("PASS") && Contains("none differs beyond both uncertainties"));
    // Half a step of 24 bit is some 120 dB below a sound of 1 V. A thousandth of u is far below what anybody
    // can tell, and far above what is seen.
    check_close(d.report / "report.json", d.opened / "report.json", 1e-3);
    // The fingerprint is the same on both sides.
    const auto sum = packed.out.substr(packed.out.find("Fingerprint: "), 77);
    CHECK_THAT(opened.out, Contains(sum));
    // What was opened can be judged and packed again.
    CHECK(cvrig_with({"rejudge", d.opened.string()}).status == 0);
    CHECK(cvrig_with({"pack", d.opened.string(), "-o", d.file.string()}).status == 0);
    CHECK(d.open().status == 0);
}

TEST_CASE("program: packing twice gives the same bytes", "[cli]") {
    const packed_desk d;
    REQUIRE(d.pack().status == 0);
    const auto first = read(d.file);
    REQUIRE(start({"/bin/sh", "-c", "cd / && TZ=Pacific/Auckland exec \"$@\"", "sh", CVRIG_PROGRAM,
                   "pack", d.report.string(), "-o", d.file.string()})
                .status == 0);
    CHECK(read(d.file) == first);
}

TEST_CASE("program: other people's tools read what was packed", "[cli][outside]") {
    const packed_desk d;
    REQUIRE(d.pack().status == 0);
    const auto checked = start({CVRIG_CHECK_EVIDENCE, d.file.string(), d.report.string()});
    CAPTURE(checked.out, checked.err);
    CHECK(checked.status == 0);
    CHECK_THAT(checked.out, Contains("2 sounds"));
}

TEST_CASE("program: nothing of who packed, and where, gets into evidence", "[cli]") {
    // A desk at a place with a telling name, of a user with one, whose module tells of both.
    const temporary_folder above;
    const auto place = above.path() / "home of zelda-telltale" / "secret project";
    fs::create_directories(place);
    const auto module = place / "zelda's module";
    write_file_atomically(
        module,
        "#!/bin/sh\necho \"zelda-telltale runs $0 for $2 on $(hostname)\" >&2\necho \"this is "
        "$(hostname), sir\" >&2\n"
        "echo 'also tells of /dev/ttyACM7, ttyUSB3 and zelda@telltale.example' >&2\n"
        "echo \"my folder is $(dirname \"$0\")\" >&2\nexec \"" FERRULE_PROGRAM "\" \"$@\"\n");
    fs::permissions(module, fs::perms::owner_all);
    const auto report = place / "the report";
    const desk d{program(fmt::format("\"{}\", render", module.string()), ", \"jacks=pitch,gate\"")};
    const auto bench = read(d.bench);
    write_file_atomically(
        d.bench, "# zelda-telltale's bench\n" + bench + "console: {serial: /dev/ttyTELLTALE9}\n");
    const auto expectations = read(d.expectations);
    write_file_atomically(d.expectations, expectations + "# by zelda-telltale\n");
    const auto as_zelda = [&](std::vector<std::string> command) {
        command.insert(command.begin(),
                       {"/usr/bin/env", "USER=zelda-telltale", "LOGNAME=zelda-telltale",
                        fmt::format("HOME={}", place.string()), CVRIG_PROGRAM});
        return start(command);
    };
    const auto image = place / "voice zelda-telltale.bin";
    write_file_atomically(image, "firmware");
    REQUIRE(as_zelda({"run", d.expectations.string(), "--bench", d.bench.string(), "--report",
                      report.string(), "--keep-takes", "--quiet", "--image", image.string()})
                .status == 0);
    // The run itself is full of it.
    CHECK_THAT(read(report / "run.log"), Contains("zelda-telltale") && Contains("secret project"));
    const auto file = above.path() / "x.cvrig-evidence";
    const auto packed = as_zelda({"pack", report.string(), "-o", file.string()});
    CAPTURE(packed.out, packed.err);
    REQUIRE(packed.status == 0);

    const auto all = everything_in(file) + read(file);
    std::array<char, 256> host{};
    REQUIRE(::gethostname(host.data(), host.size() - 1) == 0);
    for (const std::string telltale : {"zelda", "telltale", "TELLTALE", "secret", "home of",
                                       "the report", "ttyACM", "ttyUSB", "/dev", "module.yaml"}) {
        CAPTURE(telltale);
        CHECK(all.find(telltale) == std::string::npos);
    }
    // Two letters may stand anywhere in sound.
    CHECK_THAT(all,
               Contains("this is <host>, sir") &&
                   !Contains(fmt::format("this is {}", static_cast<const char*>(host.data()))));
    CHECK(all.find(above.path().string()) == std::string::npos);
    CHECK(all.find(d.folder.path().string()) == std::string::npos);
    // What is left out is told, and what judging needs is there.
    CHECK_THAT(packed.out, Contains("Replaced by words") && Contains("user name"));
    CHECK_THAT(all, Contains("voice <user>") && Contains("jacks=pitch,gate"));
    const auto opened = cvrig_with({"open", file.string(), "-r", (above.path() / "o").string()});
    CAPTURE(opened.out, opened.err);
    CHECK(opened.status == 0);
}

TEST_CASE("program: the same unit twice does not differ, another unit does and is named", "[cli]") {
    const packed_desk d;
    REQUIRE(d.pack().status == 0);
    const auto against = [&](const fs::path& other) {
        return d.open({"--against", other.string()});
    };
    SECTION("its own run") {
        const auto r = against(d.report);
        CAPTURE(r.out, r.err);
        CHECK(r.status == 0);
        CHECK_THAT(r.out, !Contains("What is not the same"));
    }
    SECTION("itself") {
        CHECK(against(d.file).status == 0);
    }
    SECTION("a louder unit, as a run and as evidence") {
        desk other{program("\"" FERRULE_PROGRAM "\", render",
                           ", \"jacks=pitch,gate\", \"fault=level-jump:2\"")};
        (void)other.run({"--keep-takes", "--quiet", "--unit", "8"});
        REQUIRE(fs::exists(other.report / "report.json"));
        const auto evidence = other.folder.path() / "other.cvrig-evidence";
        REQUIRE(cvrig_with({"pack", other.report.string(), "-o", evidence.string()}).status == 0);
        for (const auto& side : {other.report, evidence}) {
            const auto r = against(side);
            CAPTURE(r.out, r.err);
            CHECK(r.status == 1);
            CHECK_THAT(r.out, Contains("unit: 7 here, 8 there") && Contains("bench file: "));
            CHECK_THAT(r.out, Contains("Readings that differ") && Contains("level, level: "));
        }
    }
    SECTION("a run of other checks leaves the question open") {
        const desk other;
        REQUIRE(other.run({"--keep-takes", "--quiet", "--unit", "7", "--check", "level"}).status ==
                0);
        const auto r = against(other.report);
        CAPTURE(r.out, r.err);
        CHECK(r.status == 3);
        CHECK_THAT(r.out, Contains("Only here") && Contains("stereo, gain difference"));
    }
    SECTION("something that is no run") {
        const auto r = against(d.folder.path() / "nothing");
        CHECK(r.status == 2);
        CHECK(is_one_sentence(r.err));
    }
}

TEST_CASE("program: other limits are judged on evidence, and its readings stay", "[cli]") {
    const packed_desk d;
    REQUIRE(d.pack().status == 0);
    const auto other = d.folder.path() / "other.yaml";
    write_file_atomically(other, expectations_with("between 1 dBu and 2 dBu"));
    const auto r = d.open({"-e", other.string()});
    CAPTURE(r.out, r.err);
    CHECK(r.status == 1);
    CHECK_THAT(r.out, Contains("none differs beyond both uncertainties"));
}

TEST_CASE("program: a run of some checks is judged again and packed as such", "[cli]") {
    const packed_desk d{good_program(), {"--check", "level"}};
    CHECK(cvrig_with({"rejudge", d.report.string()}).status == 0);
    REQUIRE(d.pack().status == 0);
    const auto r = d.open();
    CHECK(r.status == 0);
    CHECK_THAT(r.out, !Contains("stereo"));
    CHECK_THAT(read(d.opened / "report.json"), Contains("\"unit\": \"7\""));
}

TEST_CASE("program: a take that is not a number goes in as it is", "[cli]") {
    const packed_desk d{rogue("nan"), {}, 3};
    const auto packed = d.pack();
    CAPTURE(packed.out, packed.err);
    REQUIRE(packed.status == 0);
    CHECK_THAT(packed.out, Contains("WAV and not FLAC") && Contains("is not finite"));
    const auto r = d.open();
    CAPTURE(r.out, r.err);
    CHECK(r.status == 3);
    CHECK(read(d.opened / "takes" / "mode=tied,attempt=1" / "response.wav") ==
          read(d.report / "takes" / "mode=tied,attempt=1" / "response.wav"));
}

TEST_CASE("program: a take without sound is packed without", "[cli]") {
    const packed_desk d{rogue("crash"), {}, 3};
    REQUIRE(d.pack().status == 0);
    CHECK(d.open().status == 3);
    CHECK_FALSE(fs::exists(d.opened / "takes" / "mode=tied,attempt=1" / "response.wav"));
}

TEST_CASE("program: what cannot be packed is refused in one sentence", "[cli]") {
    const packed_desk d;
    std::vector<std::string> more;
    SECTION("a firmware file that was not kept") {
        more = {"--with-image"};
    }
    SECTION("a run without its report") {
        fs::remove(d.report / "report.json");
    }
    SECTION("a report of something else") {
        write_file_atomically(d.report / "report.json", "{}");
    }
    SECTION("no takes") {
        fs::remove_all(d.report / "takes");
    }
    SECTION("a take that is damaged") {
        write_file_atomically(d.report / "takes" / "mode=tied,attempt=1" / "response.wav", "x");
    }
    SECTION("a take without a description that can be read") {
        write_file_atomically(d.report / "takes" / "mode=tied,attempt=1" / "take.json", "{}");
    }
    SECTION("a run of an older cvrig") {
        fs::remove(d.report / "run.json");
    }
    const auto r = d.pack(more);
    CAPTURE(r.out, r.err);
    CHECK(r.status == 2);
    CHECK(is_one_sentence(r.err));
    CHECK(r.out.empty());
    CHECK(left_in(d.folder.path()) ==
          std::vector<std::string>{"bench.yaml", "module.yaml", "report"});
}

TEST_CASE("program: the firmware file is in evidence only if asked for", "[cli]") {
    const temporary_folder folder;
    const auto report = folder.path() / "report";
    const auto file = (folder.path() / "x.cvrig-evidence").string();
    const auto opened = folder.path() / "opened";
    REQUIRE(cvrig_with({"run", CVRIG_DEMO "/ferrule.expectations.yaml", "--bench",
                        CVRIG_DEMO "/desk.bench.yaml", "--image", CVRIG_FIRMWARE "/good.hex",
                        "--unit", "3", "--with", "state=none", "--check", "image", "--check",
                        "console", "--keep-takes", "--report", report.string()})
                .status == 0);
    const auto r = [&](std::vector<std::string> more) {
        more.insert(more.begin(), {"pack", report.string(), "-o", file});
        const auto packed = cvrig_with(more);
        REQUIRE(packed.status == 0);
        const bool warns = packed.out.find("byte by byte") != std::string::npos;
        CHECK(warns == (more.back() == "--with-image"));
        return cvrig_with({"open", file, "-r", opened.string()});
    };
    const auto without = r({});
    CAPTURE(without.out, without.err);
    // What was read of it stands as it was packed, and says so.
    CHECK(without.status == 0);
    CHECK_THAT(without.out, Contains("stands as it was packed"));
    CHECK_THAT(read(opened / "report.json"), Contains("the firmware file is not in the evidence"));
    check_close(report / "report.json", opened / "report.json", 0.0);
    CHECK_FALSE(fs::exists(opened / "image"));
    const auto with = r({"--with-image"});
    CAPTURE(with.out, with.err);
    CHECK(with.status == 0);
    CHECK(read(opened / "image") == read(CVRIG_FIRMWARE "/good.hex"));
    CHECK_THAT(with.out, !Contains("stands as it was packed"));
    // Opening one that has none leaves none of the other.
    CHECK(r({}).status == 0);
    CHECK_FALSE(fs::exists(opened / "image"));
}

TEST_CASE("program: evidence is not opened over something else, nor if it is damaged", "[cli]") {
    const packed_desk d;
    REQUIRE(d.pack().status == 0);
    SECTION("the run itself") {
        const auto before = read(d.report / "report.json");
        const auto r = cvrig_with({"open", d.file.string(), "-r", d.report.string()});
        CHECK(r.status == 2);
        CHECK(is_one_sentence(r.err));
        CHECK(read(d.report / "report.json") == before);
    }
    SECTION("cut off") {
        const auto whole = read(d.file);
        write_file_atomically(d.file, whole.substr(0, whole.size() / 2));
        check_refused(d.open(), d.opened);
    }
    SECTION("a byte of sound changed") {
        auto bytes = read(d.file);
        const auto flac = bytes.find("fLaC");
        REQUIRE(flac != std::string::npos);
        bytes[flac + 20'000] = static_cast<char>(bytes[flac + 20'000] ^ 1);
        write_file_atomically(d.file, bytes);
        check_refused(d.open(), d.opened);
    }
}
