#include <SQLiteCpp/SQLiteCpp.h>
#include <fmt/format.h>

#include <catch2/catch.hpp>
#include <fstream>

#include "rig/history/sqlite_database.hpp"
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

TEST_CASE("history: somebody else's database is not touched, to the byte", "[history]") {
    const temporary_folder folder;
    const auto file = (folder.path() / "recipes.sqlite").string();
    SQLite::Database{file, SQLite::OPEN_READWRITE | SQLite::OPEN_CREATE}.exec(
        "CREATE TABLE recipes (name TEXT)");
    const auto before = sha256_of_file(file);
    for (const auto how : {opening::to_read, opening::to_write})
        CHECK_THROWS_WITH(open_history(file, how), Catch::Contains("tables of something else"));
    CHECK(sha256_of_file(file) == before);
    write_file_atomically(folder.path() / "empty", "");
    CHECK_THROWS_WITH(open_history((folder.path() / "empty").string(), opening::to_read),
                      Catch::Contains("There is no history in"));
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

TEST_CASE("history: a store that another program keeps locked is told, and filed into afterwards",
          "[history]") {
    new_history h;
    const auto other = open_sqlite(h.address(), opening::to_write, std::chrono::milliseconds{50});
    {
        transaction writing{*h.db};
        CHECK_THROWS_WITH(file_run_alone(*other, small_run("1"), keyed("1")),
                          Catch::Contains("keeps it locked"));
        // Who only reads does not wait for a writer.
        CHECK(list_runs(*other, {}).empty());
    }
    CHECK(file_run_alone(*other, small_run("1"), keyed("1")).is_new);
}

TEST_CASE("history: a damaged file is told, and what can be read is not changed", "[history]") {
    new_history h;
    for (int i = 0; i < 50; ++i) h.add(fmt::format("b{}", i));
    h.db->execute("PRAGMA wal_checkpoint(TRUNCATE)");
    h.db.reset();
    {
        std::fstream file{h.address(), std::ios::in | std::ios::out | std::ios::binary};
        file.seekp(4096);
        file << std::string(64 * 1024, '\xA5');
    }
    CHECK_THROWS_WITH(list_runs(*open_history(h.address(), opening::to_write), {}),
                      Catch::Contains("it is damaged"));
}
