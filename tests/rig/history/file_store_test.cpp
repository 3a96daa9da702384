#include <catch2/catch.hpp>
#include <fstream>

#include "rig/platform/files.hpp"
#include "tests/rig/history/new_history.hpp"

using namespace cvrig;
using namespace cvrig::history;

TEST_CASE("history: what is no history is refused and left as it is", "[history]") {
    temporary_folder folder;
    const auto file = folder.path() / "letter.txt";
    const std::string text =
        "Dear Ann, this is not a database, though it is as long as one might begin.\n";
    write_file_atomically(file, text);
    CHECK_THROWS_WITH(open_history(file.string(), opening::to_write),
                      Catch::Contains("is no history of cvrig"));
    std::ifstream in{file};
    const std::string after{std::istreambuf_iterator<char>{in}, {}};
    CHECK(after == text);
    CHECK_THROWS_WITH(open_history(folder.path().string(), opening::to_read),
                      Catch::Contains("is a folder"));
    CHECK_THROWS_WITH(open_history((folder.path() / "none").string(), opening::to_read),
                      Catch::Contains("There is no history at"));
}

TEST_CASE("history: a full disk loses the run that did not fit, and no other", "[history]") {
    new_history h;
    h.add("1.0.1");
    // SQLite's own limit stands for the disk: it answers with the same code, SQLITE_FULL.
    h.db->execute("PRAGMA max_page_count = 1");
    auto large = small_run("1.0.2");
    large.checks.front().findings.front().reason = std::string(1 << 20, 'x');
    CHECK_THROWS_WITH(file_run_alone(*h.db, large, keyed("2")),
                      Catch::Contains("the disk is full"));
    CHECK(list_runs(*h.db, {}).size() == 1);
    h.db->execute("PRAGMA max_page_count = 1000000");
    static_cast<void>(file_run_alone(*h.db, large, keyed("2")));
    CHECK(list_runs(*h.db, {}).size() == 2);
}
