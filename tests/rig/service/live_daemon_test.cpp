#include <httplib.h>

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <csignal>
#include <cstdlib>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "tests/support/jack_bench.hpp"

/// The real daemon on a real audio server, with wires in place of a module.
namespace {

using namespace cvrig;
using namespace cvrig::test;
using namespace std::chrono_literals;
using Catch::Matchers::Contains;
using nlohmann::json;
namespace fs = std::filesystem;

constexpr auto module_file =
    "format: cvrig expectations 1\n"
    "module: Wires\n"
    "pitch: {at 0 V: C2, per octave: 1 V}\n"
    "drive:\n  pitch: {from: 0 V, to: 4 V}\n  gate: {low: 0 V, high: 5 V}\n"
    "listen: [left, right]\n"
    "settings:\n  switch: {values: [up], operator: \"Set the switch to {value}\"}\n"
    "judging: {retakes: 0}\n"
    "checks:\n  level: {note: 3 V, level: between -60 dBu and 30 dBu}\n";

/// The server's wires, under a module's names.
std::string bench_file() {
    auto text = jack_bench::bench_text();
    text.replace(text.find("jack: a"), 7, "jack: pitch");
    return text.replace(text.find("jack: b"), 7, "jack: gate");
}

template <class Ready>
bool becomes_true(const Ready& ready) {
    for (int i = 0; i < 1000; ++i) {
        if (ready()) return true;
        std::this_thread::sleep_for(20ms);
    }
    return false;
}

class served_wires {
public:
    served_wires() {
        const auto folder = server_.folder();
        for (const auto* name : {"run", "data"}) fs::create_directories(folder / name);
        ::setenv("XDG_RUNTIME_DIR", (folder / "run").c_str(), 1);
        ::setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        ::unsetenv("CVRIG_HISTORY");
        write_file_atomically(folder / "module.yaml", module_file);
        write_file_atomically(folder / "bench.yaml", bench_file());
        write_file_atomically(folder / "one.bin", "an image");
        daemon_.emplace(std::vector<std::string>{CVRIG_PROGRAM, "serve", folder / "module.yaml",
                                                 "--bench", folder / "bench.yaml", "--port", "0",
                                                 "--reports", folder / "reports"});
        REQUIRE(daemon_->wait_for("#token="));
        std::this_thread::sleep_for(50ms);
        daemon_->read_all();
        const auto& said = daemon_->said();
        port_ = std::stoi(said.substr(said.find("127.0.0.1:") + 10));
        token_ = said.substr(said.find("#token=") + 7, 64);
    }

    [[nodiscard]] json bench() const { return get("/api/bench"); }
    [[nodiscard]] json newest_job() const { return get("/api/queue")["jobs"][0]; }
    [[nodiscard]] json get(const std::string& path) const {
        httplib::Client client{"127.0.0.1", port_};
        const auto answer = client.Get(path);
        REQUIRE(answer);
        return json::parse(answer->body);
    }
    [[nodiscard]] int post(const std::string& path, const json& body) const {
        httplib::Client client{"127.0.0.1", port_};
        const auto answer =
            client.Post(path, {{"X-Cvrig-Token", token_}}, body.dump(), "application/json");
        REQUIRE(answer);
        return answer->status;
    }
    [[nodiscard]] bool becomes(const std::string& state) const {
        return becomes_true([&] { return bench()["state"] == state; });
    }
    void submit() const {
        REQUIRE(post("/api/jobs", {{"image", (server_.folder() / "one.bin").string()}}) == 202);
    }
    [[nodiscard]] jack_bench& server() { return server_; }
    [[nodiscard]] child& daemon() { return *daemon_; }

private:
    jack_bench server_{"48000", false};  // one that waits would wait for who has ended
    std::optional<child> daemon_;
    int port_{0};
    std::string token_;
};

/// How a level that was held came to rest in the end; nothing if it was at rest all the time.
void check_comes_to_rest(const std::vector<float>& heard) {
    constexpr std::size_t ramp_frames = 480;  // 10 ms at 48 kHz
    auto last = heard.size();
    while (last > 0 && heard[last - 1] == 0.0F) --last;
    REQUIRE(last > ramp_frames);
    const float held = heard[last - ramp_frames];
    CAPTURE(held, heard[last - 1]);
    CHECK(std::abs(held) > 0.05F);
    const float line = std::abs(held) / static_cast<float>(ramp_frames);
    for (auto i = last - ramp_frames + 1; i <= last; ++i)
        REQUIRE(std::abs(heard[i] - heard[i - 1]) < 1.5F * line);
}

/// Whether an output is away from 0 V.
bool drives_something(const json& bench) {
    return std::ranges::any_of(bench["meters"], [](const json& m) {
        return m["way"] == "out" && m["rms_v"].get<double>() > 1.0;
    });
}

}  // namespace

TEST_CASE("what needs a hand is asked by the daemon, and goes on once it is answered",
          "[service][live]") {
    const served_wires at;
    at.submit();
    REQUIRE(at.becomes("asking"));
    const auto asks = at.bench()["asks"];
    CHECK_THAT(asks["instruction"].get<std::string>(), Contains("Set the switch to up"));
    const int number = asks["number"];
    CHECK(at.post("/api/answer", {{"number", number + 1}, {"answer", "done"}}) == 409);
    CHECK(at.post("/api/answer", {{"number", number}, {"answer", "done"}}) == 200);
    REQUIRE(becomes_true([&] { return drives_something(at.bench()); }));
    CHECK(at.bench()["asks"].is_null());
    CHECK(at.post("/api/answer", {{"number", number}, {"answer", "done"}}) == 409);
    REQUIRE(at.becomes("idle"));
    // A wire is no module; that it is none is found out, and not held against the image.
    CHECK(at.newest_job()["verdict"] == "unsure");
}

TEST_CASE("Stop and SIGTERM let the outputs ramp to 0 V", "[service][live]") {
    const bool by_signal = GENERATE(false, true);
    CAPTURE(by_signal);
    served_wires at;
    at.submit();
    REQUIRE(at.becomes("asking"));
    REQUIRE(at.post("/api/answer",
                    {{"number", at.bench()["asks"]["number"]}, {"answer", "done"}}) == 200);
    REQUIRE(becomes_true([&] { return drives_something(at.bench()); }));
    if (by_signal) {
        at.daemon().signal(SIGTERM);
        CHECK(at.daemon().wait_for_end() == 0);
    } else {
        CHECK(at.post("/api/stop", json::object()) == 200);
        REQUIRE(at.becomes("idle"));
        CHECK(at.bench()["held"] == true);
        CHECK(at.newest_job()["state"] == "stopped");
    }
    const auto heard = at.server().heard();
    const auto moved = [](const std::vector<float>& v) {
        return std::ranges::find_if(v.rbegin(), v.rend(), [](float x) { return x != 0.0F; }) -
               v.rbegin();
    };
    check_comes_to_rest(moved(heard[0]) < moved(heard[1]) ? heard[0] : heard[1]);
}
