#include "tests/rig/service/served_desk.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

}  // namespace

TEST_CASE("an image that lands in a watched folder gets its verdict, once", "[service][daemon]") {
    const served_desk d;
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("done"));
    const auto first = d.jobs()[0];
    CHECK(first["verdict"] == "pass");
    CHECK(first["build"] == "one");
    CHECK(first["asked_by"] == "watch");
    CHECK(d.get("/api/builds")["builds"].size() == 1);
    CHECK(d.get("/api/runs/" + first["run"].dump())["run"]["unit"] == "7");
    const auto report = d.client().Get("/runs/" + first["run"].dump() + "/report.html");
    REQUIRE(report);
    CHECK_THAT(report->body, Contains("Ferrule"));
    // The same bytes under another name are no new image; others are.
    d.feed("again.bin", "image one");
    d.feed("two.bin", "image two");
    REQUIRE(becomes_true([&] { return d.jobs().size() == 2; }));
    REQUIRE(d.newest_becomes("done"));
    CHECK(d.jobs().size() == 2);
}

TEST_CASE("whoever submits may wait, and ends as a run does", "[service][daemon]") {
    const served_desk d;
    const auto image = d.files.folder.path() / "mine.bin";
    write_file_atomically(image, "mine");
    const auto done = cvrig_with({"submit", image, "--commit", "v1-2-gabc", "--wait"});
    CHECK(done.status == 0);
    CHECK_THAT(done.out, Contains("pass"));
    CHECK(d.jobs()[0]["commit"] == "v1-2-gabc");
    const auto told = json::parse(cvrig_with({"status", "--json"}).out);
    CHECK(told["bench"]["state"] == "idle");
    CHECK(told["queue"]["jobs"].size() == 1);
}

TEST_CASE("without a daemon, status says so and submit refuses", "[service][daemon]") {
    served_desk d;
    REQUIRE(d.daemon->end());
    CHECK(d.daemon->status() == 0);
    const auto status = cvrig_with({"status"});
    CHECK(status.status == 3);
    CHECK_THAT(status.err, Contains("No daemon runs"));
    check_refused(cvrig_with({"submit", d.files.bench}), d.files.report);
}

TEST_CASE("a bench has one daemon, and a second is told which", "[service][daemon]") {
    const served_desk d;
    const auto second =
        cvrig_with({"serve", d.files.expectations, "--bench", d.files.bench, "--port", "0"});
    check_refused(second, d.files.report);
    CHECK_THAT(second.err, Contains("process " + std::to_string(d.daemon->pid())) &&
                               Contains("cvrig serve") && Contains("cvrig submit"));
}

TEST_CASE("Stop ends the run and holds the queue, over a restart too, until it is resumed",
          "[service][daemon]") {
    served_desk d{slow_program()};
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("running"));
    const auto answer = d.client().Post("/api/stop", "{}", "application/json");
    REQUIRE(answer);
    CHECK(answer->status == 200);
    REQUIRE(d.newest_becomes("stopped"));
    d.feed("two.bin", "image two");
    REQUIRE(d.newest_becomes("waiting"));
    CHECK(d.get("/api/bench")["held"] == true);
    REQUIRE(d.daemon->end());
    d.begin();
    CHECK(d.get("/api/bench")["held"] == true);
    CHECK(d.jobs()[0]["state"] == "waiting");
    CHECK(d.post("/api/resume", json::object()) == 200);
    CHECK(d.newest_becomes("running"));
}

TEST_CASE("a job that waits or runs can be cancelled, and no other", "[service][daemon]") {
    const served_desk d{slow_program()};
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("running"));
    const auto id = d.jobs()[0]["id"].dump();
    CHECK(d.post("/api/jobs/" + id + "/cancel", json::object()) == 200);
    REQUIRE(d.newest_becomes("stopped"));
    CHECK(d.post("/api/jobs/" + id + "/cancel", json::object()) == 409);
    CHECK(d.post("/api/jobs/999/cancel", json::object()) == 404);
    CHECK(d.get("/api/bench")["held"] == false);
}

TEST_CASE("a daemon that is asked to end hands its run over to the next", "[service][daemon]") {
    served_desk d{slow_program()};
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("running"));
    REQUIRE(d.daemon->end());
    CHECK(d.daemon->status() == 0);
    d.begin();
    REQUIRE(d.newest_becomes("running"));
    CHECK(d.jobs()[0]["attempts"] == 1);
    CHECK(d.jobs().size() == 1);
}

TEST_CASE("a daemon that is killed leaves no run behind, and the next does it again",
          "[service][daemon]") {
    served_desk d{slow_program()};
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("running"));
    d.daemon->send(SIGKILL);
    REQUIRE(d.daemon->ends_within(std::chrono::seconds{5}));
    // It gets the bench only once what the other had started is gone.
    d.begin();
    REQUIRE(d.newest_becomes("running"));
    CHECK(d.jobs()[0]["attempts"] == 2);
}

TEST_CASE("a run whose starter was gone before it could say so plays nothing for nobody",
          "[service][daemon]") {
    const desk d{slow_program(), "90 s"};
    // Were it to play on, it would outlast the patience with which programs are started here.
    const auto ended = d.run_in_shell(R"({ sleep 0.3; exec "$@" --tell 3 3>&1; } | true)");
    CHECK(ended.status == 0);
    CHECK_THAT(ended.err, Contains("The run was stopped"));
    CHECK(left_in(d.report).empty());
}

TEST_CASE("an image that was replaced while it waited does not run", "[service][daemon]") {
    const served_desk d{slow_program()};
    d.feed("first.bin", "occupies the bench");
    REQUIRE(d.newest_becomes("running"));
    d.feed("out.bin", "older");
    REQUIRE(becomes_true([&] { return d.jobs().size() == 2; }));
    d.feed("out.bin", "newer");
    REQUIRE(becomes_true([&] { return d.jobs().size() == 3; }));
    const auto all = d.jobs();
    CHECK(all[0]["state"] == "waiting");
    CHECK(all[1]["state"] == "stopped");
    CHECK(all[1]["why"] == "replaced by a newer image");
}

TEST_CASE("a run that cannot judge fails its job and says why", "[service][daemon]") {
    const served_desk d{program("/bin/sh, -c, \"kill -9 $PPID\"")};
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("failed"));
    CHECK_THAT(d.jobs()[0]["why"].get<std::string>(), Contains("crashed 3 times"));
    CHECK(d.jobs()[0]["attempts"] == 3);
}
