#include "rig/service/job_store.hpp"

#include <catch2/catch.hpp>
#include <stdexcept>
#include <string>

#include "rig/history/file_run.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/history/store_fixture.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::service;

struct desk {
    temporary_folder folder;
    std::unique_ptr<history::database> db{history::open_history(
        (folder.path() / "history.sqlite").string(), history::opening::to_write)};
    job_store jobs{*db, "desk.yaml"};

    std::optional<std::int64_t> add(const std::string& key, const std::string& image = "a.hex",
                                    const std::string& by = "watch") {
        job j;
        j.key = key;
        j.image = image;
        j.image_sha256 = "hash of " + key;
        j.build_name = key;
        j.unit = "7";
        j.asked = utc_now();
        j.asked_by = by;
        j.report_folder = "reports/" + key;
        return jobs.add(j);
    }
    std::int64_t runs() { return db->query("SELECT count(*) FROM runs").front().whole(0); }
    std::int64_t file(const job& j) {
        return jobs.finish(j, 0, [&](history::database& in) {
            return history::file_run(in, history::small_run(j.build_name), history::keyed(j.key))
                .id;
        });
    }
};

}  // namespace

TEST_CASE("jobs run in the order in which they came, or the newest first", "[service][jobs]") {
    desk d;
    for (const auto* key : {"one", "two", "three"}) REQUIRE(d.add(key));
    CHECK(d.jobs.begin_next(false)->key == "one");
    CHECK(d.jobs.begin_next(true)->key == "three");
    const auto last = d.jobs.begin_next(true);
    CHECK(last->key == "two");
    CHECK(last->attempts == 1);
    CHECK_FALSE(last->started.empty());
    CHECK_FALSE(d.jobs.begin_next(true));
}

TEST_CASE("a key is one job, however often it is added", "[service][jobs]") {
    desk d;
    REQUIRE(d.add("one"));
    CHECK_FALSE(d.add("one"));
    CHECK(d.jobs.latest(100).size() == 1);
}

TEST_CASE("a run and its job are settled together or not at all", "[service][jobs]") {
    desk d;
    REQUIRE(d.add("one"));
    const auto j = *d.jobs.begin_next(false);
    CHECK_THROWS_AS(d.jobs.finish(j, 0,
                                  [&](history::database& in) -> std::int64_t {
                                      static_cast<void>(history::file_run(
                                          in, history::small_run("one"), history::keyed(j.key)));
                                      throw std::runtime_error{"the power went"};
                                  }),
                    std::runtime_error);
    CHECK(d.runs() == 0);
    CHECK(d.jobs.find(j.id)->state == job_state::running);
    const auto run = d.file(j);
    CHECK(d.runs() == 1);
    const auto settled = *d.jobs.find(j.id);
    CHECK(settled.state == job_state::done);
    CHECK(settled.run == run);
    CHECK(settled.exit_status == 0);
    CHECK_FALSE(settled.verdict.empty());
    CHECK_FALSE(settled.ended.empty());
}

TEST_CASE("filing a job's run a second time changes nothing", "[service][jobs]") {
    desk d;
    REQUIRE(d.add("one"));
    const auto j = *d.jobs.begin_next(false);
    CHECK(d.file(j) == d.file(j));
    CHECK(d.runs() == 1);
}

TEST_CASE("what waits for an image that was replaced is stopped, and nothing else",
          "[service][jobs]") {
    desk d;
    const auto old = d.add("old", "a.hex");
    const auto other = d.add("other", "b.hex");
    const auto by_hand = d.add("by hand", "a.hex", "submit");
    d.jobs.supersede("a.hex", "new");
    const auto now = d.add("new", "a.hex");
    CHECK(d.jobs.find(*old)->state == job_state::stopped);
    CHECK(d.jobs.find(*old)->why == "replaced by a newer image");
    for (const auto& id : {other, by_hand, now})
        CHECK(d.jobs.find(*id)->state == job_state::waiting);
}

TEST_CASE("an image that was replaced before it ran, and comes back, waits again",
          "[service][jobs]") {
    desk d;
    const auto old = d.add("old");
    CHECK(d.jobs.knows_image("hash of old", "7"));
    d.jobs.supersede("a.hex", "new");
    CHECK_FALSE(d.jobs.knows_image("hash of old", "7"));
    CHECK(d.add("old") == old);
    CHECK(d.jobs.find(*old)->state == job_state::waiting);
}

TEST_CASE("an image is known by a job or a filed run, for the unit that it was for",
          "[service][jobs]") {
    desk d;
    REQUIRE(d.add("one"));
    CHECK(d.jobs.knows_image("hash of one", "7"));
    CHECK_FALSE(d.jobs.knows_image("hash of one", "8"));
    CHECK_FALSE(d.jobs.knows_image("another", "7"));
    const auto told = history::small_run("filed");
    static_cast<void>(history::file_run_alone(*d.db, told, history::keyed("filed")));
    CHECK(d.jobs.knows_image(told.build_sha256, told.unit));
}

TEST_CASE("a hand-over is no attempt; a run that was cut off is", "[service][jobs]") {
    desk d;
    const auto id = *d.add("one");
    REQUIRE(d.jobs.begin_next(false));
    d.jobs.put_back(id, false);
    CHECK(d.jobs.find(id)->attempts == 0);
    REQUIRE(d.jobs.begin_next(false));
    d.jobs.put_back(id, true);
    CHECK(d.jobs.begin_next(false)->attempts == 2);
}

TEST_CASE("only a job that waits can be taken out of the queue", "[service][jobs]") {
    desk d;
    const auto id = *d.add("one");
    CHECK(d.jobs.stop_if_waiting(id, "by hand"));
    CHECK_FALSE(d.jobs.stop_if_waiting(id, "by hand"));
    CHECK_FALSE(d.jobs.begin_next(false));
}

TEST_CASE("the jobs of another bench are not this daemon's", "[service][jobs]") {
    desk d;
    const auto id = *d.add("one");
    job_store other{*d.db, "other.yaml"};
    CHECK(other.latest(100).empty());
    CHECK_FALSE(other.begin_next(false));
    CHECK_FALSE(other.find(id));
}
