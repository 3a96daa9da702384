#include <atomic>
#include <chrono>

#include "tests/rig/service/served_desk.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

int status(const httplib::Result& r) {
    REQUIRE(r);
    return r->status;
}

}  // namespace

TEST_CASE("the rules hold on the wire, each by itself", "[service][http]") {
    const served_desk d;
    auto c = d.client();
    const auto own = "127.0.0.1:" + std::to_string(d.port);
    const auto good = httplib::Headers{{"X-Cvrig-Token", d.token}};
    CHECK(status(c.Get("/api/bench")) == 200);
    CHECK(status(c.Get("/api/bench", {{"Host", "example.org"}})) == 421);
    CHECK(status(c.Get("/api/bench", {{"Origin", "http://example.org"}})) == 403);
    CHECK(status(c.Get("/api/bench", {{"Origin", "http://" + own}})) == 200);
    CHECK(status(c.Put("/api/resume", "{}", "application/json")) == 405);
    CHECK(status(c.Post("/api/resume", "{}", "application/json")) == 401);
    CHECK(status(c.Post("/api/resume", {{"X-Cvrig-Token", "wrong"}}, "{}", "application/json")) ==
          401);
    CHECK(status(c.Post("/api/resume", good, "{}", "text/plain")) == 415);
    CHECK(status(c.Post("/api/stop", "{}", "text/plain")) == 415);
    CHECK(status(c.Post("/api/stop", {{"Origin", "http://example.org"}}, "{}",
                        "application/json")) == 403);
    CHECK(status(c.Post("/api/resume", {{"X-Cvrig-Token", d.token}, {"Host", "example.org"}}, "{}",
                        "application/json")) == 421);
    CHECK(status(c.Post("/api/resume", good, "{}", "application/json")) == 200);
    CHECK(d.get("/api/bench")["held"] == false);
}

TEST_CASE("what is no request of ours gets one sentence and changes nothing", "[service][http]") {
    const served_desk d;
    CHECK(d.post("/api/jobs", json::array()) == 400);
    CHECK(d.post("/api/jobs", {{"image", 7}}) == 400);
    CHECK(d.post("/api/jobs", {{"image", "relative.bin"}}) == 400);
    CHECK(d.post("/api/jobs", {{"image", "/no/such/file.bin"}}) == 400);
    CHECK(d.post("/api/answer", {{"number", 1}, {"answer", "dance"}}) == 400);
    CHECK(d.post("/api/answer", {{"number", 1}, {"answer", "done"}}) == 409);
    CHECK(d.post("/api/nothing", json::object()) == 404);
    CHECK(d.post("/api/jobs", {{"image", std::string(70 * 1024, 'x')}}) == 413);
    const auto answer = d.client().Get("/api/runs/1");
    REQUIRE(answer);
    CHECK(answer->status == 404);
    CHECK(json::parse(answer->body).at("error").get<std::string>().back() == '.');
    CHECK(d.jobs().empty());
}

TEST_CASE("no path, however it is written, leads to other files", "[service][http]") {
    const served_desk d;
    d.feed("one.bin", "image one");
    REQUIRE(d.newest_becomes("done"));
    auto c = d.client();
    CHECK(status(c.Get("/runs/1/report.html")) == 200);
    for (const auto* path :
         {"/runs/1/report.json", "/runs/1/../1/report.json", "/runs/1/%2e%2e/%2e%2e/module.yaml",
          "/runs/1/sounds/..%2freport.json", "/runs/1/sounds/%2e%2e%2frun.log.wav",
          "/runs/1/sounds/..%5c..%5cx.wav", "/runs/1/%252e%252e/x", "/page/..%2findex.html",
          "/page/../index.html", "/../../etc/passwd", "//etc/passwd", "/runs/01x/report.html",
          "/runs/99999999999999999999999/report.html", "/page/"}) {
        CAPTURE(path);
        CHECK(status(c.Get(path)) == 404);
    }
}

TEST_CASE("the page lets nothing in from elsewhere, and its files are what they say",
          "[service][http]") {
    const served_desk d;
    auto c = d.client();
    const auto page = c.Get("/");
    REQUIRE(page);
    CHECK(page->get_header_value("Content-Security-Policy").find("default-src 'self'") == 0);
    CHECK(page->get_header_value("X-Content-Type-Options") == "nosniff");
    const auto script = c.Get("/page/page.js");
    REQUIRE(script);
    CHECK(script->get_header_value("Content-Type") == "text/javascript; charset=utf-8");
    CHECK(status(c.Get("/page/dygraph.min.js")) == 200);
}

TEST_CASE("events tell a new reader everything, and then what changes", "[service][http]") {
    const served_desk d;
    std::string heard;
    std::atomic<bool> fed{false};
    const auto until = std::chrono::steady_clock::now() + std::chrono::seconds{10};
    static_cast<void>(d.client().Get("/api/events", [&](const char* data, std::size_t size) {
        heard.append(data, size);
        if (!fed.exchange(true)) d.feed("one.bin", "image one");
        return heard.find("event: filed") == std::string::npos &&
               std::chrono::steady_clock::now() < until;
    }));
    for (const auto* kind : {"bench", "levels", "queue", "filed"})
        CHECK(heard.find(std::string{"event: "} + kind + "\ndata: {") != std::string::npos);
    CHECK(heard.find("\"state\":\"proving\"") != std::string::npos);
}

TEST_CASE("a reader who takes nothing holds nobody up", "[service][http]") {
    const served_desk d;
    std::vector<std::thread> readers;
    std::atomic<bool> over{false};
    for (int i = 0; i < 4; ++i)
        readers.emplace_back([&] {
            static_cast<void>(d.client().Get("/api/events", [&](const char*, std::size_t) {
                while (!over) std::this_thread::sleep_for(std::chrono::milliseconds{20});
                return false;
            }));
        });
    d.feed("one.bin", "image one");
    CHECK(d.newest_becomes("done"));
    over = true;
    for (auto& reader : readers) reader.join();
}

TEST_CASE("the token lies where only its owner can read it, and is another each time",
          "[service][http]") {
    served_desk d;
    const auto address = [&] {
        for (const auto& entry : fs::directory_iterator{d.files.folder.path() / "run" / "cvrig"})
            if (entry.path().extension() == ".daemon") return entry.path();
        return fs::path{};
    };
    REQUIRE_FALSE(address().empty());
    CHECK(fs::status(address()).permissions() == (fs::perms::owner_read | fs::perms::owner_write));
    const auto before = d.token;
    CHECK(json::parse(read(address()))["token"] == before);
    REQUIRE(d.daemon->end());
    CHECK(address().empty());
    d.begin();
    CHECK(d.token != before);
}
