#include "rig/service/job_store.hpp"

#include <catch2/catch.hpp>
#include <stdexcept>
#include <string>

#include "rig/history/file_run.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/utc_now.hpp"
#include "tests/rig/history/store_fixture.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::service;

struct desk {
    temporary_folder folder;
    std::unique_ptr<history::database> db{history::open_history(
        (folder.path() / "history.sqlite").string(), history::opening::to_write)};
    job_store jobs{*db, "desk.yaml"};

    static job made(const std::string& key, const std::string& image = "a.hex",
                    const std::string& by = "watch") {
        job j;
        j.key = key;
        j.image = image;
        j.image_sha256 = "hash of " + key;
        j.expectations_sha256 = "hash of the file";
        j.build_name = key;
        j.unit = "7";
        j.asked = utc_now();
        j.asked_by = by;
        j.report_folder = "reports/" + key;
        return j;
    }
    std::optional<std::int64_t> add(const std::string& key, const std::string& image = "a.hex",
                                    const std::string& by = "watch") {
        return jobs.add(made(key, image, by));
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
    auto again = desk::made("old", "b.hex");
    again.commit = "v1-3-gdef";
    again.asked = "2031-05-06T07:08:09Z";
    CHECK(d.jobs.has_job_like(again));
    d.jobs.supersede("a.hex", "new");
    CHECK_FALSE(d.jobs.has_job_like(again));
    CHECK(d.jobs.add(again) == old);
    const auto now = *d.jobs.find(*old);
    CHECK(now.state == job_state::waiting);
    CHECK(now.image == "b.hex");
    CHECK(now.commit == "v1-3-gdef");
    CHECK(now.asked == "2031-05-06T07:08:09Z");
}

TEST_CASE("a job is like another of the same image, unit and expectation file", "[service][jobs]") {
    desk d;
    REQUIRE(d.add("one"));
    CHECK(d.jobs.has_job_like(desk::made("one", "elsewhere.hex")));
    auto other = desk::made("one");
    other.unit = "8";
    CHECK_FALSE(d.jobs.has_job_like(other));
    other = desk::made("one");
    other.expectations_sha256 = "hash of the edited file";
    CHECK_FALSE(d.jobs.has_job_like(other));
    // What somebody ran by hand may have been judged on another bench, or in part.
    const auto told = history::small_run("filed");
    static_cast<void>(history::file_run_alone(*d.db, told, history::keyed("filed")));
    other = desk::made("one");
    other.image_sha256 = told.build_sha256;
    other.unit = told.unit;
    CHECK_FALSE(d.jobs.has_job_like(other));
}

TEST_CASE("a hand-over is no attempt; a run that was cut off is, and a crash is counted apart",
          "[service][jobs]") {
    desk d;
    const auto id = *d.add("one");
    const auto begin_and_leave = [&](unfinished how) {
        REQUIRE(d.jobs.begin_next(false));
        d.jobs.put_back(id, how);
        return *d.jobs.find(id);
    };
    CHECK(begin_and_leave(unfinished::handed_over).attempts == 0);
    CHECK(begin_and_leave(unfinished::cut_off).crashes == 0);
    const auto now = begin_and_leave(unfinished::crashed);
    CHECK(now.attempts == 2);
    CHECK(now.crashes == 1);
}

TEST_CASE("a hold is kept in the store for its daemon alone, until it is lifted",
          "[service][jobs]") {
    desk d;
    job_store other{*d.db, "other.yaml"};
    CHECK(d.jobs.hold().empty());
    d.jobs.keep_hold("Stopped by hand.");
    d.jobs.keep_hold("Stopped again.");
    CHECK(job_store{*d.db, "desk.yaml"}.hold() == "Stopped again.");
    CHECK(other.hold().empty());
    d.jobs.keep_hold("");
    CHECK(d.jobs.hold().empty());
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
