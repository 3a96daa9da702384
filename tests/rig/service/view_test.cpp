#include <catch2/catch.hpp>
#include <chrono>
#include <string>
#include <thread>
#include <utility>
#include <vector>

#include "rig/service/bench_view.hpp"
#include "rig/service/event_hub.hpp"

namespace {

using namespace cvrig::service;
using namespace std::chrono_literals;

struct watched_view {
    std::vector<std::pair<std::string, bench_view::json>> told;
    bench_view view{{"Ferrule", "desk", "0.1"},
                    [this](const std::string& kind, const bench_view::json& data) {
                        told.emplace_back(kind, data);
                    }};
};

job some_job() {
    job j;
    j.id = 4;
    j.build_name = "good";
    j.attempts = 1;
    return j;
}

}  // namespace

TEST_CASE("the bench is what its run tells", "[service][view]") {
    watched_view w;
    CHECK(w.view.snapshot()["state"] == "idle");
    CHECK(w.view.snapshot()["job"].is_null());
    w.view.begin(some_job());
    w.view.hear(R"({"now":"playing","plays":"tracking","take":2,"takes":8,"attempt":1,)"
                R"("played_s":10.0,"planned_s":40.0,"left_s":12.5})");
    const auto now = w.view.snapshot();
    CHECK(now["state"] == "playing");
    CHECK(now["job"]["build"] == "good");
    CHECK(now["take"] == 2);
    CHECK(now["left_s"] == 12.5);
    w.view.end();
    CHECK(w.view.snapshot()["state"] == "idle");
    CHECK(w.view.snapshot()["takes"] == 0);
}

TEST_CASE("levels are told apart from the bench, which has none of them", "[service][view]") {
    watched_view w;
    w.view.begin(some_job());
    w.view.hear(
        R"({"now":"levels","meters":[{"jack":"left"}],"trace":{"span_s":1,"channels":[]}})");
    CHECK(w.told.back().first == "levels");
    CHECK(w.view.snapshot()["meters"][0]["jack"] == "left");
    w.view.hear(R"({"now":"judging"})");
    CHECK(w.told.back().first == "bench");
    CHECK_FALSE(w.told.back().second.contains("meters"));
}

TEST_CASE("a question is answered once, and by its number", "[service][view]") {
    watched_view w;
    w.view.begin(some_job());
    w.view.hear(R"({"now":"playing"})");
    CHECK_FALSE(w.view.answered(1));
    w.view.hear(
        R"({"now":"asking","asks":{"number":1,"of":2,"instruction":"Turn it","cautions":[]}})");
    CHECK(w.view.snapshot()["state"] == "asking");
    CHECK_FALSE(w.view.answered(2));
    CHECK(w.view.answered(1));
    CHECK_FALSE(w.view.answered(1));
    CHECK(w.view.snapshot()["state"] == "playing");
    CHECK(w.view.snapshot()["asks"].is_null());
}

TEST_CASE("lines that are none change nothing", "[service][view]") {
    watched_view w;
    w.view.begin(some_job());
    const auto before = w.told.size();
    for (const auto* line : {"", "{", "[]", "7", R"({"now":1})", R"({"now":"dancing"})",
                             R"({"now":"levels"})", R"({"now":"asking"})"})
        w.view.hear(line);
    CHECK(w.told.size() == before);
}

TEST_CASE("a held queue says so, and why", "[service][view]") {
    watched_view w;
    w.view.hold("Stopped by hand.");
    CHECK(w.view.snapshot()["held"] == true);
    CHECK(w.view.snapshot()["why_held"] == "Stopped by hand.");
    w.view.hold("");
    CHECK(w.view.snapshot()["held"] == false);
}

TEST_CASE("a slow reader finds the latest state, and every run that was filed",
          "[service][events]") {
    // The form of an event: HTML Living Standard, 9.2.5.
    event_hub hub;
    const auto reader = hub.listen();
    for (int i = 0; i < 1000; ++i) hub.tell("levels", std::to_string(i));
    hub.tell("filed", "{\"run\":1}");
    hub.tell("filed", "{\"run\":2}");
    std::vector<std::string> all;
    while (const auto next = reader->next(0ms)) all.push_back(*next);
    CHECK(all == std::vector<std::string>{"event: filed\ndata: {\"run\":1}\n\n",
                                          "event: filed\ndata: {\"run\":2}\n\n",
                                          "event: levels\ndata: 999\n\n"});
}

TEST_CASE("there are only so many readers, and a closed hub wakes them all", "[service][events]") {
    event_hub hub;
    std::vector<std::shared_ptr<event_stream>> readers;
    while (auto next = hub.listen()) {
        readers.push_back(next);
        REQUIRE(readers.size() < 1000);
    }
    readers.pop_back();
    readers.push_back(hub.listen());
    REQUIRE(readers.back() != nullptr);
    std::thread waiting{[&] { CHECK_FALSE(readers.back()->next(60s)); }};
    hub.close();
    waiting.join();
    CHECK(readers.front()->is_closed());
    CHECK(hub.listen() == nullptr);
}
