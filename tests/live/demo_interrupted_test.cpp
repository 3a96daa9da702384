#include <sys/types.h>

#include <catch2/catch.hpp>
#include <cerrno>
#include <csignal>
#include <filesystem>
#include <fstream>
#include <sstream>

#include "rig/platform/files.hpp"
#include "tests/support/child_program.hpp"

using namespace cvrig;
using namespace cvrig::test_support;

namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

std::string text_of(const fs::path& file) {
    std::ifstream in{file};
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

// A whole `scripts/demo --live` in a process group of its own, as a terminal would start it.
class live_demo {
public:
    live_demo() {
        fs::create_directories(folder_.path() / "tmp");
        // setsid becomes the demo's shell, so that its number names the group.
        shell_ = std::make_unique<child_program>(
            std::vector<std::string>{"setsid", "env", "TMPDIR=" + temporary().string(),
                                     "CVRIG_BUILD=" CVRIG_BUILD_FOLDER, "CVRIG_IS_BUILT=1",
                                     "CVRIG_REPORTS=" + (folder_.path() / "reports").string(),
                                     CVRIG_SCRIPTS "/demo", "--live"},
            folder_.path() / "demo");
    }

    [[nodiscard]] child_program& shell() { return *shell_; }
    [[nodiscard]] fs::path temporary() const { return folder_.path() / "tmp"; }
    void send_to_all(int signal) const { ::kill(-shell_->pid(), signal); }
    // Including what the shell has left behind in its group, or of its server.
    [[nodiscard]] bool any_runs() const {
        if (::kill(-shell_->pid(), 0) == 0) return true;
        for (const auto& process : fs::directory_iterator{"/proc"})
            if (text_of(process.path() / "cmdline").find(server()) != std::string::npos)
                return true;
        return false;
    }
    // A server that was killed leaves its socket, and one of eight places, behind.
    [[nodiscard]] bool has_left_a_server() const {
        return fs::exists("/dev/shm/jack_" + server() + "_0_0");
    }
    [[nodiscard]] std::string server() const { return "cvrig-" + std::to_string(shell_->pid()); }
    // Its first words are of the first sound that the rig has played.
    [[nodiscard]] bool rig_has_played() const {
        const auto log = folder_.path() / "reports/live/good/run.log";
        return fs::exists(log) && fs::file_size(log) > 0;
    }

private:
    temporary_folder folder_;
    std::unique_ptr<child_program> shell_;
};

}  // namespace

TEST_CASE("an interrupted live demo leaves no process and no file behind") {
    const auto [signal, to_all, status] = GENERATE(std::tuple{SIGINT, true, 130},   // Ctrl-C
                                                   std::tuple{SIGTERM, false, 143}  // kill
    );
    live_demo demo;
    INFO(signal << ": " << demo.shell().all());
    REQUIRE(becomes_true([&] { return demo.rig_has_played() || !demo.shell().runs(); }, 60s));
    REQUIRE(demo.shell().runs());
    CHECK_FALSE(fs::is_empty(demo.temporary()));
    if (to_all) {
        demo.send_to_all(signal);
    } else {
        demo.shell().send(signal);
    }
    REQUIRE(demo.shell().ends_within(20s));
    CHECK(demo.shell().status() == status);
    CHECK(becomes_true([&] { return !demo.any_runs(); }));
    CHECK(fs::is_empty(demo.temporary()));
    CHECK_FALSE(demo.has_left_a_server());
}
