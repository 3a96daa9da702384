// The real program files tracking of several units, and answers from the files.

#include "rig/fleet/record_store.hpp"
#include "tests/rig/cli_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

struct fleet_desk {
    temporary_folder folder;
    fs::path runs = folder.path() / "runs";
    fs::path report = folder.path() / "report";
    std::string bench{CVRIG_DEMO "/desk.bench.yaml"};

    /// Tracking of one demo unit, with the constants that a new module has.
    [[nodiscard]] ended run(const std::string& unit, std::vector<std::string> more = {}) const {
        std::vector<std::string> all{"run",      CVRIG_DEMO "/ferrule.expectations.yaml",
                                     "--bench",  bench,
                                     "--image",  CVRIG_FIRMWARE "/good.hex",
                                     "--with",   "state=" + (folder.path() / "no-state").string(),
                                     "--check",  "tracking",
                                     "--set",    "mode=struck",
                                     "--report", report.string(),
                                     "--unit",   unit};
        all.insert(all.end(), more.begin(), more.end());
        return cvrig_with(all);
    }
    [[nodiscard]] ended filed(const std::string& unit, std::vector<std::string> more = {}) const {
        more.insert(more.end(), {"--runs", runs.string()});
        return run(unit, std::move(more));
    }
    [[nodiscard]] records_read records() const { return read_records(std::vector<fs::path>{runs}); }
};

/// Files three units; an uncalibrated one fails its check, which is none of the record's business.
void file_three(const fleet_desk& d) {
    for (const char* unit : {"1", "2", "3"}) {
        const auto r = d.filed(unit, {"--constants", "default"});
        CAPTURE(r.err, r.out);
        REQUIRE((r.status == 0 || r.status == 1));
        CHECK_THAT(r.out, Contains("Filed: " + d.runs.string()));
    }
}

}  // namespace

TEST_CASE("program: tracking is filed by unit and build, whatever its verdict", "[cli][fleet]") {
    const fleet_desk d;
    file_three(d);
    const auto read = d.records();
    CHECK(read.broken.empty());
    REQUIRE(read.records.size() == 3);
    const auto& r = read.records[1].record;
    CHECK(read.records[1].file.parent_path() == d.runs / "Ferrule" / "0002" / "good");
    CHECK(r.unit == "0002");
    CHECK(r.build == "good");
    CHECK(r.build_sha256.size() == 64);
    CHECK(r.bench == "desk");
    CHECK(r.choice.at("mode") == "struck");
    CHECK(r.in_force == constants_in_force::by_default);
    CHECK(r.notes.size() == 26);
}

TEST_CASE("program: fleet answers from what was filed, as text, page and JSON", "[cli][fleet]") {
    const fleet_desk d;
    file_three(d);
    const auto out = d.folder.path() / "fleet";
    const auto r = cvrig_with({"fleet", d.runs.string(), "--report", out.string()});
    CAPTURE(r.err);
    CHECK(r.status == 0);
    CHECK(r.err.empty());
    CHECK_THAT(r.out, Contains("Ferrule, build good: 3 units") &&
                          Contains("With the default constants as they are") &&
                          Contains((out / "fleet.html").string()));
    CHECK(left_in(out) == std::vector<std::string>{"fleet.html", "fleet.json"});
    const auto json = cvrig_with({"fleet", d.runs.string(), "--json"});
    CHECK(json.status == 0);
    CHECK(json.out == read(out / "fleet.json"));
    CHECK_THAT(cvrig_with({"fleet", d.runs.string(), "--limit", "1 semitone"}).out,
               Contains("within 100 cent"));
}

TEST_CASE("program: fleet tells a broken record and goes on", "[cli][fleet]") {
    const fleet_desk d;
    file_three(d);
    write_file_atomically(d.runs / "broken.json", "{");
    const auto r = cvrig_with({"fleet", d.runs.string()});
    CHECK(r.status == 0);
    CHECK(is_one_sentence(r.err));
    CHECK_THAT(r.err, Contains("broken.json"));
    CHECK_THAT(r.out, Contains("broken.json"));
}

TEST_CASE("program: fleet refuses what it cannot use in one sentence", "[cli][fleet]") {
    const temporary_folder folder;
    check_refused(cvrig_with({"fleet", folder.path().string()}), "");
    check_refused(cvrig_with({"fleet", "no-such-folder"}), "");
    check_refused(cvrig_with({"fleet"}), "");
    const fleet_desk d;
    REQUIRE(d.filed("1").status <= 1);
    const auto runs = d.runs.string();
    check_refused(cvrig_with({"fleet", runs, "--build", "none"}), "");
    check_refused(cvrig_with({"fleet", runs, "--limit", "5 Hz"}), "");
    check_refused(cvrig_with({"fleet", runs, "--limit", "0 cent"}), "");
    check_refused(cvrig_with({"fleet", runs, "--set", "mode=wild"}), "");
    // One unit is no fleet, and no mistake either.
    const auto one = cvrig_with({"fleet", runs});
    CHECK(one.status == 3);
    CHECK_THAT(one.out, Contains("only one unit was measured"));
}

TEST_CASE("program: another unit than was typed is refused before anything plays", "[cli][fleet]") {
    fleet_desk d;
    // A bench on which somebody has put unit 4.
    auto bench = replaced(read(CVRIG_DEMO "/desk.bench.yaml"),
                          "ferrule, console, \"image={image}\", \"unit={unit}\"",
                          "\"" FERRULE_PROGRAM "\", console, \"image={image}\", unit=4");
    bench = replaced(bench, "program: [ferrule,", "program: [\"" FERRULE_PROGRAM "\",");
    d.bench = (d.folder.path() / "desk.yaml").string();
    write_file_atomically(d.bench, bench);
    const auto refused = d.filed("5");
    CHECK(refused.status == 2);
    CHECK(is_one_sentence(refused.err));
    CHECK_THAT(refused.err, Contains("'0004'") && Contains("'5'"));
    CHECK_FALSE(fs::exists(d.runs));
    CHECK(d.filed("04").status <= 1);
    CHECK(d.records().records.at(0).record.unit == "0004");
}

TEST_CASE("program: what is to be filed must have a name and a place", "[cli][fleet]") {
    // A bench without a console, so that nobody tells the unit.
    const desk d;
    write_file_atomically(
        d.expectations, replaced(read(d.expectations), "checks:\n",
                                 "checks:\n  tracking:\n    notes: {from: 1 V, to: 2 V, every: "
                                 "4 semitones, order: up and down}\n    error: within 50 cent\n"));
    const auto runs = (d.folder.path() / "runs").string();
    check_refused(d.run({"--runs", runs}), d.report);
    check_refused(d.run({"--runs", runs, "--unit", "1"}), d.report);
    check_refused(d.run({"--runs", d.expectations.string(), "--unit", "1", "--build-name", "1"}),
                  d.report);
    CHECK(d.run({"--runs", runs, "--unit", "1", "--build-name", "1.0"}).status <= 1);
    CHECK(read_records(std::vector<fs::path>{runs}).records.size() == 1);
    // A run without tracking needs no name.
    CHECK(d.run({"--runs", runs, "--check", "level"}).status <= 1);
    CHECK(read_records(std::vector<fs::path>{runs}).records.size() == 1);
}
