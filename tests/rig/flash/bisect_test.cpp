// `git bisect run cvrig run --bisect` in a throw-away repository whose firmware goes bad.

#include <nlohmann/json.hpp>

#include "tests/rig/flash/flash_desk.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

constexpr int commits = 16;
constexpr int bad_from = 11;
constexpr int does_not_build = 8;  // the first that halving comes to
constexpr int does_not_flash = 13;

/// A repository of firmware that git alone looks at, whatever the user's settings are.
class repository {
public:
    explicit repository(const fs::path& folder) : folder_{folder} {
        fs::create_directory(folder_);
        git("init -q");
    }

    ended git(const std::string& words) const { return shell("git " + words); }

    ended shell(const std::string& line) const {
        return start({"/usr/bin/env", "-u", "GIT_DIR", "-u", "GIT_WORK_TREE", "-u",
                      "GIT_INDEX_FILE", "GIT_CONFIG_GLOBAL=/dev/null", "GIT_CONFIG_NOSYSTEM=1",
                      "GIT_AUTHOR_NAME=bench", "GIT_AUTHOR_EMAIL=bench@localhost",
                      "GIT_COMMITTER_NAME=bench", "GIT_COMMITTER_EMAIL=bench@localhost", "/bin/sh",
                      "-c", "cd '" + folder_.string() + "' && " + line});
    }

    void commit(int number) const {
        write("bass.ferrule",
              fmt::format("ferrule image 1\nversion: 1.9.{}\nname: bass\n{}", number,
                          number >= bad_from ? "fault: level-jump 6\n" : ""));
        write("build.sh", number == does_not_build ? "echo bass.c:1: error; exit 1\n"
                                                   : "exec " FERRULE_PROGRAM
                                                     " link bass.ferrule out.hex\n");
        write("flash.sh",
              number == does_not_flash ? "echo no probe; exit 1\n" : "exec cp \"$1\" \"$2\"\n");
        REQUIRE(git("add -A bass.ferrule build.sh flash.sh").status == 0);
        REQUIRE(git(fmt::format("commit -q -m 'change {}'", number)).status == 0);
        REQUIRE(git(fmt::format("tag change-{}", number)).status == 0);
    }

private:
    void write(const std::string& name, const std::string& text) const {
        write_file_atomically(folder_ / name, text, durability::unsynced);
    }

    fs::path folder_;
};

const std::string steps =
    "build: {program: [/bin/sh, build.sh], folder: firmware, makes: out.hex, time limit: 20 s}\n"
    "flash: {program: [/bin/sh, flash.sh, \"{image}\", ../device.hex], folder: firmware}\n";

struct bisected : flash_desk {
    repository source{folder.path() / "firmware"};

    bisected() : flash_desk{steps} {
        for (int i = 1; i <= commits; ++i) source.commit(i);
    }
    [[nodiscard]] std::string run_line() const {
        std::string line = CVRIG_PROGRAM;
        for (const auto& a : arguments({"--bisect", "--quiet", "--check", "level"}))
            line += " '" + a + "'";
        return line;
    }
    [[nodiscard]] int status_at(int number) const {
        REQUIRE(source.git(fmt::format("checkout -q change-{}", number)).status == 0);
        const auto r = source.shell(run_line());
        CAPTURE(r.out, r.err);
        return r.status;
    }
};

}  // namespace

TEST_CASE("git bisect finds the commit that broke it, past commits that cannot be judged",
          "[flash]") {
    const bisected b;
    CHECK(b.status_at(1) == 0);
    CHECK(b.status_at(does_not_build) == 125);
    CHECK(b.status_at(does_not_flash) == 125);
    CHECK(b.status_at(commits) == 1);
    const auto told = nlohmann::json::parse(read(b.report / "report.json"));
    CHECK(told["build"]["commit"] == "change-16");
    CHECK(told["build"]["name"] == "change-16");

    REQUIRE(b.source.git("bisect start change-16 change-1").status == 0);
    const auto r = b.source.git("bisect run " + b.run_line());
    CAPTURE(r.out, r.err);
    CHECK(r.status == 0);
    const auto bad = b.source.git(fmt::format("rev-parse change-{}", bad_from)).out;
    CHECK_THAT(r.out, Contains(bad.substr(0, 40) + " is the first bad commit"));
    CHECK_THAT(b.source.git("bisect log").out, Contains("# skip: "));
}
