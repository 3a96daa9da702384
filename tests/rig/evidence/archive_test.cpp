// The container: equal bytes, standard tools, and what strangers may put into it.

#include <archive.h>
#include <archive_entry.h>
#include <catch2/catch.hpp>
#include <cstdlib>
#include <fstream>
#include <sstream>

#include "outside_programs.hpp"
#include "rig/evidence/archive.hpp"
#include "rig/evidence/manifest.hpp"
#include "rig/evidence/member_name.hpp"
#include "rig/evidence/unpack.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"

using namespace cvrig;
using namespace cvrig::evidence;
using namespace cvrig::testing;
using Catch::Matchers::Contains;
namespace fs = std::filesystem;

namespace {

struct foreign_member {
    std::string name, text;
    std::string link_to{};  ///< not empty: a symbolic link
};

/// A ZIP file as anybody may make it.
void write_foreign(const fs::path& to, const std::vector<foreign_member>& members) {
    archive* a = archive_write_new();
    archive_write_set_format_zip(a);
    REQUIRE(archive_write_open_filename(a, to.c_str()) == ARCHIVE_OK);
    for (const auto& m : members) {
        archive_entry* e = archive_entry_new();
        archive_entry_set_pathname(e, m.name.c_str());
        archive_entry_set_perm(e, 0644);
        archive_entry_set_filetype(e, m.link_to.empty() ? AE_IFREG : AE_IFLNK);
        archive_entry_set_size(e, static_cast<la_int64_t>(m.text.size()));
        if (!m.link_to.empty()) archive_entry_set_symlink(e, m.link_to.c_str());
        REQUIRE(archive_write_header(a, e) == ARCHIVE_OK);
        if (!m.text.empty()) archive_write_data(a, m.text.data(), m.text.size());
        archive_entry_free(e);
    }
    archive_write_close(a);
    archive_write_free(a);
}

packed_member described(const std::string& name, const std::string& text) {
    return {name, text.size(), sha256_of(text), {}};
}

/// The smallest evidence there is: no take, and a report without a finding.
struct small_evidence {
    std::vector<foreign_member> members;
    manifest what;

    small_evidence() {
        add("expectations.yaml", "format: cvrig expectations 1\n");
        add("bench.yaml", "format: cvrig bench 1\n");
        add("run.json", "{}");
        add("report.json",
            R"({"format": "cvrig report 1", "verdict": "skipped", "module": "", "unit": "",
            "build": {"name": "", "sha256": ""}, "bench": {"name": "", "link": ""},
            "expectations_file": {"sha256": ""}, "bench_file": {"sha256": ""}, "rig_version": "1",
            "started": "", "coverage_factor": 2.0, "checks": []})");
        what.expectations_sha256 = what.bench_sha256 = std::string(64, 'a');
    }
    void add(const std::string& name, const std::string& text) {
        members.push_back({name, text});
        what.members.push_back(described(name, text));
    }
    void write(const fs::path& to) const {
        auto all = members;
        all.insert(all.begin(), {"manifest.json", manifest_text(what)});
        write_foreign(to, all);
    }
};

struct opening {
    temporary_folder folder;
    fs::path file = folder.path() / "x.cvrig-evidence";
    fs::path to = folder.path() / "opened";

    /// One plain sentence, and nothing was unpacked anywhere.
    void check_refused(const std::string& about) const {
        try {
            (void)unpack(file, to);
            FAIL("it was unpacked");
        } catch (const user_error& e) {
            const std::string said = e.what();
            CAPTURE(said);
            CHECK_THAT(said, Contains(about));
            CHECK(said.find('\n') == std::string::npos);
        }
        std::size_t left = 0;
        for ([[maybe_unused]] const auto& entry : fs::directory_iterator{folder.path()}) ++left;
        CHECK(left == 1);  // the file itself
    }
};

}  // namespace

TEST_CASE("equal members give equal bytes, whatever the time and its zone", "[evidence]") {
    const temporary_folder folder;
    write_file_atomically(folder.path() / "a", std::string(100'000, 'a'));
    write_file_atomically(folder.path() / "b", "b");
    const std::vector<archive_source> members{{"a.json", folder.path() / "a"},
                                              {"takes/x/b.flac", folder.path() / "b"}};
    std::vector<std::string> made;
    for (const char* zone : {"UTC", "Pacific/Auckland", "America/Los_Angeles"}) {
        ::setenv("TZ", zone, 1);
        ::tzset();
        fs::last_write_time(folder.path() / "a",
                            fs::last_write_time(folder.path() / "a") + std::chrono::hours{9});
        write_archive(folder.path() / "x.zip", members);
        made.push_back(bytes_of(folder.path() / "x.zip"));
    }
    ::unsetenv("TZ");
    ::tzset();
    CHECK(made[0] == made[1]);
    CHECK(made[0] == made[2]);
    CHECK(made[0].size() < 1000);
}

TEST_CASE("unzip and Python list and test what we write", "[evidence][outside]") {
    const temporary_folder folder;
    write_file_atomically(folder.path() / "a", std::string(100'000, 'a'));
    const auto zip = (folder.path() / "x.zip").string();
    write_archive(zip, std::vector<archive_source>{{"a.json", folder.path() / "a"},
                                                   {"takes/x/a.flac", folder.path() / "a"}});
    CHECK_THAT(output_of({"unzip", "-t", zip}), Contains("a.json") && Contains("takes/x/a.flac"));
    const auto python = output_of(
        {"python3", "-c",
         "import sys, zipfile; z = zipfile.ZipFile(sys.argv[1]); assert z.testzip() is None; "
         "print([(i.filename, i.file_size, i.date_time) for i in z.infolist()])",
         zip});
    CHECK_THAT(python, Contains("('takes/x/a.flac', 100000, (1980, 1, 1, 0, 0, 0))"));
}

TEST_CASE("an archive without fault is unpacked, and again into the same folder", "[evidence]") {
    const opening o;
    small_evidence{}.write(o.file);
    for (int i = 0; i < 2; ++i) {
        const auto opened = unpack(o.file, o.to);
        CHECK(opened.what.members.size() == 4);
        CHECK(opened.told.outcome == verdict::skipped);
        CHECK(bytes_of(o.to / "run.json") == "{}");
        CHECK(sha256_of_file(o.to / "manifest.json") == opened.fingerprint);
    }
    SECTION("a folder that holds something else is left alone") {
        fs::remove(o.to / "manifest.json");
        CHECK_THROWS_WITH(unpack(o.file, o.to), Contains("holds other things"));
        CHECK(fs::exists(o.to / "run.json"));
    }
}

TEST_CASE("a folder with a manifest of somebody else keeps its files", "[evidence]") {
    const opening o;
    small_evidence{}.write(o.file);
    const auto manifest = GENERATE(values<std::string>(
        {R"({"name": "My page", "icons": []})", "", "no JSON", R"({"format": "cvrig evidence 1"})",
         R"({"format": "cvrig evidence 2"})"}));
    CAPTURE(manifest);
    fs::create_directories(o.to / "takes");
    write_file_atomically(o.to / "manifest.json", manifest);
    for (const char* own : {"takes/film.txt", "run.log", "bench.yaml"})
        write_file_atomically(o.to / own, "mine");
    CHECK_THROWS_WITH(unpack(o.file, o.to), Contains("holds other things; choose a new one"));
    CHECK(bytes_of(o.to / "manifest.json") == manifest);
    for (const char* own : {"takes/film.txt", "run.log", "bench.yaml"})
        CHECK(bytes_of(o.to / own) == "mine");
}

TEST_CASE("members that lead elsewhere are refused", "[evidence]") {
    const opening o;
    small_evidence e;
    const auto name = GENERATE(values<std::string>(
        {"../outside", "/outside", "takes/../../outside/take.json", "takes/.hidden/take.json",
         "takes/a b/take.json", "takes/x/y/take.json", "takes/x/other.txt", "takes//take.json",
         "./run.log", "run.log/", "report.html", "takes/x/stimulus-1.exe", "takes/x/stimulus-.flac",
         "C:\\x", "manifest.json"}));
    CAPTURE(name);
    SECTION("told by the manifest") {
        e.add(name, "x");
        e.write(o.file);
        o.check_refused("");
    }
    SECTION("not told by the manifest") {
        e.members.push_back({name, "x"});
        e.write(o.file);
        o.check_refused("not to be trusted");
    }
    CHECK_FALSE(is_member_name(name));
    CHECK_FALSE(is_member_name(""));
}

TEST_CASE("archives that are not to be trusted are refused", "[evidence]") {
    const opening o;
    small_evidence e;
    std::string about = "not to be trusted";
    SECTION("a symbolic link") {
        e.what.members.push_back(described("run.log", ""));
        e.members.push_back({"run.log", "", "/etc/passwd"});
        e.write(o.file);
    }
    SECTION("a member twice") {
        e.members.push_back(e.members.front());
        e.write(o.file);
    }
    SECTION("more bytes than were told: a bomb") {
        e.members.push_back({"run.log", std::string(50'000'000, 'x')});
        e.what.members.push_back(described("run.log", "x"));
        e.write(o.file);
    }
    SECTION("a bench file that leads elsewhere") {
        const std::string text = "format: cvrig bench 1\ntrim: /etc/passwd\n";
        e.members[1].text = text;
        e.what.members[1] = described("bench.yaml", text);
        e.write(o.file);
    }
    SECTION("a manifest without an end") {
        write_foreign(o.file, {{"manifest.json", std::string(100'000'000, ' ')}});
    }
    SECTION("a member that the manifest tells of twice") {
        e.what.members.push_back(e.what.members.front());
        e.write(o.file);
        about = "twice";
    }
    SECTION("more than a disk holds") {
        e.what.members.push_back(
            {"takes/x/response-1.flac", std::uintmax_t{1} << 36U, std::string(64, 'a'),
             packed_sound{sample_rate{48000.0}, 1, {{"left", volts{1.0}}}, {}}});
        e.write(o.file);
        about = "64 GiB";
    }
    SECTION("a sound of days") {
        e.what.members.push_back(
            {"takes/x/response-1.flac", 100, std::string(64, 'a'),
             packed_sound{
                 sample_rate{48000.0}, std::size_t{1} << 34U, {{"left", volts{1.0}}}, {}}});
        e.write(o.file);
        about = "longer";
    }
    o.check_refused(about);
}

TEST_CASE("files that are no evidence, or of a newer format, are refused", "[evidence]") {
    const opening o;
    small_evidence e;
    std::string about = "no evidence file";
    SECTION("some text") {
        write_file_atomically(o.file, "some text\n");
    }
    SECTION("nothing") {
        write_file_atomically(o.file, "");
        about = "";
    }
    SECTION("another ZIP file") {
        write_foreign(o.file, {{"a.txt", "x"}});
    }
    SECTION("a manifest that is no JSON") {
        write_foreign(o.file, {{"manifest.json", "x"}});
    }
    SECTION("a newer format") {
        auto text = manifest_text(e.what);
        text.replace(text.find("evidence 1"), 10, "evidence 2");
        write_foreign(o.file, {{"manifest.json", text}});
        about = "newer cvrig";
    }
    SECTION("a manifest that comes last") {
        auto all = e.members;
        all.push_back({"manifest.json", manifest_text(e.what)});
        write_foreign(o.file, all);
    }
    o.check_refused(about);
}

TEST_CASE("damaged members are named", "[evidence]") {
    const opening o;
    small_evidence e;
    SECTION("one that was changed") {
        e.members[2].text = "[]";
    }
    SECTION("one that is missing") {
        e.members.erase(e.members.begin() + 2);
    }
    e.write(o.file);
    o.check_refused("run.json");
}

TEST_CASE(
    "evidence that is cut off anywhere, or has a byte changed anywhere, is refused or the same",
    "[evidence]") {
    const opening o;
    small_evidence{}.write(o.file);
    const auto whole = bytes_of(o.file);
    const auto good = unpack(o.file, o.to);
    std::size_t refused = 0, tried = 0;
    const auto attempt = [&](const std::string& bytes) {
        write_file_atomically(o.file, bytes, durability::unsynced);
        fs::remove_all(o.to);
        ++tried;
        try {
            // What is not told by the manifest (a date, rights) may change; nothing else.
            const auto opened = unpack(o.file, o.to);
            REQUIRE(opened.fingerprint == good.fingerprint);
        } catch (const user_error&) {
            ++refused;
            REQUIRE_FALSE(fs::exists(o.to));
        }
    };
    SECTION("cut off") {
        for (std::size_t n = 0; n < whole.size(); n += 7) attempt(whole.substr(0, n));
        // Without the list at the end, a whole archive may still be read from its beginning.
        CHECK(refused > tried / 2);
    }
    SECTION("a byte changed") {
        for (std::size_t n = 0; n < whole.size(); n += 3) {
            auto bytes = whole;
            bytes[n] = static_cast<char>(bytes[n] ^ 0x55);
            attempt(bytes);
        }
        CHECK(refused > tried / 2);
    }
}
