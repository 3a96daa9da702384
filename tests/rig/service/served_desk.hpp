#pragma once

#include <httplib.h>

#include <catch2/catch.hpp>
#include <csignal>
#include <cstdlib>
#include <memory>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "tests/rig/cli_desk.hpp"
#include "tests/support/child_program.hpp"

/// The real daemon at a desk of its own.
namespace cvrig::testing {

using json = nlohmann::json;
using test_support::child_program;

/// A busy machine is no fault of the daemon's.
template <typename Ready>
bool becomes_true(const Ready& ready) {
    return test_support::becomes_true(ready, std::chrono::seconds{40});
}

/// A module that takes a minute for each take.
inline std::string slow_program() {
    return program("/bin/sh, -c, \"sleep 60\"");
}

struct served_desk {
    desk files;
    fs::path images = files.folder.path() / "images";
    std::unique_ptr<child_program> daemon;
    int port{0};
    int begun{0};
    std::string token;

    explicit served_desk(const std::string& command = good_program())
        : files{command, command == slow_program() ? "90 s" : "20 s"} {
        const auto folder = files.folder.path();
        for (const auto* name : {"images", "run", "data"}) fs::create_directories(folder / name);
        ::setenv("XDG_RUNTIME_DIR", (folder / "run").c_str(), 1);
        ::setenv("XDG_DATA_HOME", (folder / "data").c_str(), 1);
        ::unsetenv("CVRIG_HISTORY");
        begin();
    }

    void begin(const std::vector<std::string>& more = {}) {
        std::vector<std::string> command{CVRIG_PROGRAM,
                                         "serve",
                                         files.expectations.string(),
                                         "--bench",
                                         files.bench,
                                         "--watch",
                                         images.string(),
                                         "--unit",
                                         "7",
                                         "--port",
                                         "0",
                                         "--reports",
                                         (files.folder.path() / "reports").string()};
        command.insert(command.end(), more.begin(), more.end());
        daemon = std::make_unique<child_program>(
            command, files.folder.path() / ("daemon-" + std::to_string(++begun)));
        REQUIRE(becomes_true([&] {
            return daemon->out().find("#token=") != std::string::npos &&
                   daemon->out().back() == '\n';
        }));
        const auto page = daemon->out().substr(daemon->out().rfind("Page: "));
        const auto colon = page.find(':', page.find("127.0.0.1"));
        port = std::stoi(page.substr(colon + 1));
        token = page.substr(page.find("#token=") + 7, 64);
    }

    void feed(const std::string& name, const std::string& bytes) const {
        write_file_atomically(images / name, bytes);
    }

    [[nodiscard]] httplib::Client client() const {
        httplib::Client out{"127.0.0.1", port};
        out.set_url_encode(false);
        return out;
    }
    [[nodiscard]] json get(const std::string& path) const {
        const auto answer = client().Get(path);
        REQUIRE(answer);
        REQUIRE(answer->status == 200);
        return json::parse(answer->body);
    }
    [[nodiscard]] int post(const std::string& path, const json& body) const {
        const auto answer =
            client().Post(path, {{"X-Cvrig-Token", token}}, body.dump(), "application/json");
        REQUIRE(answer);
        return answer->status;
    }
    [[nodiscard]] json jobs() const { return get("/api/queue")["jobs"]; }
    /// Whether the newest job comes into that state.
    [[nodiscard]] bool newest_becomes(const std::string& state) const {
        return becomes_true([&] {
            const auto all = jobs();
            return !all.empty() && all[0]["state"] == state;
        });
    }
};

}  // namespace cvrig::testing
