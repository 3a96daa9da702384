#include <catch2/catch.hpp>

#include "rig/platform/files.hpp"
#include "tests/rig/history/new_history.hpp"
#include "tests/support/child_program.hpp"

using namespace cvrig;
using namespace cvrig::history;
using namespace std::chrono_literals;

namespace {

std::int64_t count(database& in, const std::string& table) {
    return in.query("SELECT count(*) FROM " + table).front().whole(0);
}

}  // namespace

TEST_CASE("history: programs that file at once lose no run and double none", "[history]") {
    const history_place place;
    temporary_folder logs;
    using program = test_support::child_program;
    std::vector<std::unique_ptr<program>> all;
    // Two file the same runs, a third overlaps; the schema is not there yet.
    for (const auto& [first, last] : {std::pair{"1", "30"}, {"1", "30"}, {"21", "40"}})
        all.push_back(std::make_unique<program>(
            std::vector<std::string>{CVRIG_FILE_RUNS, place.address(), first, last},
            logs.path() / std::to_string(all.size())));
    for (auto& one : all) {
        REQUIRE(one->ends_within(60s));
        INFO(one->all());
        CHECK(one->status() == 0);
    }
    const auto db = open_history(place.address(), opening::to_read);
    CHECK(count(*db, "runs") == 40);
    CHECK(count(*db, "findings") == 40 * 3);
    CHECK(count(*db, "readings") == 40 * 2);
    CHECK(count(*db, "builds") == 5);
    CHECK(count(*db, "units") == 1);
    CHECK(count(*db, "demands") == 3);
}
