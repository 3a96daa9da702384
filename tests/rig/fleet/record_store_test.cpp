// Tracking records as files: whole, broken, twice there, with names that want to be elsewhere.

#include "rig/fleet/record_store.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "rig/expectations/user_error.hpp"
#include "rig/fleet/record_json.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/fleet/records.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
using Catch::Matchers::EndsWith;
namespace fs = std::filesystem;

namespace {

records_read read(const fs::path& folder) {
    const std::vector<fs::path> folders{folder};
    return read_records(folders);
}

std::string content(const fs::path& file) {
    std::ifstream in{file};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

nlohmann::json whole_json() {
    return nlohmann::json::parse(json_of(whole_record()));
}

}  // namespace

TEST_CASE("record store: what is filed is read back bit for bit", "[fleet][files]") {
    const temporary_folder folder;
    auto bare = whole_record();
    bare.unit = "8";
    bare.constants.reset();
    bare.in_force = constants_in_force::unknown;
    bare.choice.clear();
    for (const auto& r : {whole_record(), bare}) {
        const auto file = file_record(folder.path(), r);
        CHECK(file == folder.path() / "Ferrule" / r.unit / "1.4.2" / "2026-03-04T050607Z-run.json");
    }
    const auto back = read(folder.path());
    CHECK(back.broken.empty());
    CHECK(back.repeated.empty());
    REQUIRE(back.records.size() == 2);
    CHECK(back.records[0].record == whole_record());
    CHECK(back.records[1].record == bare);
}

TEST_CASE("record store: nothing is ever written over", "[fleet][files]") {
    const temporary_folder folder;
    auto r = whole_record();
    std::vector<fs::path> files;
    for (const char* mode : {"tied", "struck", "wide"}) {
        r.choice["mode"] = mode;
        files.push_back(file_record(folder.path(), r));
    }
    CHECK(files[0].filename() == "2026-03-04T050607Z-run.json");
    CHECK(files[1].filename() == "2026-03-04T050607Z-run-2.json");
    CHECK(files[2].filename() == "2026-03-04T050607Z-run-3.json");
    r.occasion = "after calibration";
    CHECK(file_record(folder.path(), r).filename() == "2026-03-04T050607Z-after_calibration.json");
    CHECK(read(folder.path()).records.size() == 4);
    CHECK_FALSE(write_new_file(files[0], "other"));
    CHECK(content(files[0]) == json_of(read(files[0]).records.at(0).record));
}

TEST_CASE("record store: no name leads out of the folder or to another's record",
          "[fleet][files]") {
    const temporary_folder folder;
    const auto inside = folder.path() / "runs";
    auto r = whole_record();
    std::vector<fs::path> files;
    for (const auto& name :
         {std::string{".."}, std::string{"."}, std::string{"../../x"}, std::string{"/etc"},
          std::string{"a/b"}, std::string{"a-b"}, std::string{"con:1"}, std::string(5000, 'u')}) {
        r.unit = name;
        r.build = name;
        files.push_back(file_record(inside, r));
    }
    for (const auto& file : files) {
        const auto place = fs::relative(file, inside);
        CAPTURE(place);
        CHECK(std::distance(place.begin(), place.end()) == 4);
        CHECK(std::ranges::none_of(place, [](const auto& step) { return step == ".."; }));
    }
    std::ranges::sort(files);
    CHECK(std::ranges::adjacent_find(files) == files.end());
    CHECK(read(folder.path()).records.size() == files.size());
}

TEST_CASE("record store: a broken file is told in one sentence and hides no other",
          "[fleet][files]") {
    struct row {
        std::string text, said;
    };
    auto edited = [](auto change) {
        auto all = whole_json();
        change(all);
        return all.dump();
    };
    using json = nlohmann::json;
    const auto r = GENERATE_REF(values<row>({
        {"", "no whole JSON text"},
        {json_of(whole_record()).substr(0, 200), "no whole JSON text"},
        {"[]", "its format is not 'cvrig tracking 1'"},
        {edited([](json& a) { a["format"] = "cvrig tracking 2"; }), "its format is not"},
        {edited([](json& a) { a.erase("unit"); }), "has no 'unit'"},
        {edited([](json& a) { a["unit"] = 7; }), "'unit' of the record is no text"},
        {edited([](json& a) { a["build"] = ""; }), "'build' of the record is empty"},
        {edited([](json& a) { a["colour"] = "red"; }), "unknown key 'colour'"},
        {edited([](json& a) { a["started"] = "yesterday"; }), "'started' is 'yesterday'"},
        {edited([](json& a) { a["settings"] = "tied"; }), "'settings' is no object"},
        {edited([](json& a) { a["settings"]["mode"] = 3; }), "the setting 'mode' is no text"},
        {edited([](json& a) { a["constants_in_force"] = "mine"; }), "not default, own or unknown"},
        {edited([](json& a) { a["constants"]["gain_volts_per_code"] = 0; }), "is 0"},
        {edited([](json& a) { a["volts_per_octave"] = 0; }), "'volts_per_octave' is 0"},
        {edited([](json& a) { a["u_common_cents"] = -1; }), "is below 0"},
        {edited([](json& a) { a["notes"] = json::array(); }), "it holds no notes"},
        {edited([](json& a) { a["notes"][1]["error_cents"] = nullptr; }), "is no number"},
        {edited([](json& a) { a["notes"][1]["upward"] = 1; }), "is not true or false"},
        {edited([](json& a) { a["notes"][1]["extra"] = 1; }), "a note has an unknown key"},
    }));
    const temporary_folder folder;
    static_cast<void>(file_record(folder.path(), whole_record()));
    write_file_atomically(folder.path() / "bad.json", r.text);
    const auto back = read(folder.path());
    CHECK(back.records.size() == 1);
    REQUIRE(back.broken.size() == 1);
    CHECK_THAT(back.broken[0], Contains((folder.path() / "bad.json").string()) &&
                                   Contains(r.said) && EndsWith("."));
}

TEST_CASE("record store: a number that no double holds is refused", "[fleet][files]") {
    auto text = json_of(whole_record());
    const std::string key = "\"u_common_cents\": ";
    const auto at = text.find(key);
    REQUIRE(at != std::string::npos);
    text.replace(at + key.size(), text.find(',', at) - at - key.size(), "1e999");
    CHECK_FALSE(parse_record(text).wrong.empty());
}

TEST_CASE("record store: copies and folders named twice count once", "[fleet][files]") {
    const temporary_folder folder;
    const auto one = folder.path() / "one";
    const auto file = file_record(one, whole_record());
    const std::vector<fs::path> twice{one, one / "Ferrule", file};
    auto back = read_records(twice);
    CHECK(back.records.size() == 1);
    CHECK(back.repeated.empty());
    fs::create_directory(folder.path() / "two");
    fs::copy_file(file, folder.path() / "two" / "copy.json");
    back = read(folder.path());
    CHECK(back.records.size() == 1);
    REQUIRE(back.repeated.size() == 1);
    CHECK_THAT(back.repeated[0], Contains("copy.json") && Contains("is a copy of"));
}

TEST_CASE("record store: other files are none of its business", "[fleet][files]") {
    const temporary_folder folder;
    write_file_atomically(folder.path() / "notes.txt", "The third unit came back from repair.\n");
    const auto back = read(folder.path());
    CHECK(back.records.empty());
    CHECK(back.broken.empty());
}

TEST_CASE("record store: a folder that is not there or cannot be made is told", "[fleet][files]") {
    const temporary_folder folder;
    CHECK_THROWS_AS(read(folder.path() / "none"), user_error);
    write_file_atomically(folder.path() / "file", "in the way\n");
    CHECK_THROWS_AS(file_record(folder.path() / "file", whole_record()), user_error);
    CHECK_THROWS_AS(prepare_record_folder(folder.path() / "file"), user_error);
}

TEST_CASE("record store: text that is not UTF-8 does not lose a record", "[fleet][files]") {
    const temporary_folder folder;
    auto r = whole_record();
    r.bench = "desk \xff";
    static_cast<void>(file_record(folder.path(), r));
    const auto back = read(folder.path());
    REQUIRE(back.records.size() == 1);
    CHECK(back.records[0].record.notes == r.notes);
}
