#include "rig/service/run_files.hpp"

#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <string>

#include "rig/platform/files.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::service;
namespace fs = std::filesystem;

struct reports {
    temporary_folder above;
    fs::path folder = above.path() / "run";

    reports() {
        fs::create_directories(folder / "sounds");
        std::ofstream{folder / "report.html"} << "the report";
        std::ofstream{folder / "sounds" / "a.wav"} << "the sound";
        std::ofstream{above.path() / "secret.wav"} << "secret";
        fs::create_directories(above.path() / "run-other");
        std::ofstream{above.path() / "run-other" / "x.wav"} << "secret";
    }
};

}  // namespace

TEST_CASE("a run's report and sounds are given out as what they are", "[service][files]") {
    const reports r;
    const auto report = answer_with_file(r.folder, "report.html");
    CHECK(report.status == 200);
    CHECK(report.body == "the report");
    CHECK(report.headers.at("Content-Security-Policy").find("sandbox") != std::string::npos);
    const auto sound = answer_with_file(r.folder, "sounds/a.wav");
    CHECK(sound.body == "the sound");
    CHECK(sound.type == "audio/wav");
}

TEST_CASE("no name leads out of a run's folder", "[service][files]") {
    const reports r;
    for (const std::string name :
         {"../secret.wav", "sounds/../../secret.wav", "/etc/passwd", "sounds/../../run-other/x.wav",
          "../run-other/x.wav", "sounds", ".", "", "no such file"}) {
        CAPTURE(name);
        CHECK(answer_with_file(r.folder, name).status == 404);
    }
    CHECK(answer_with_file(r.folder, std::string{"report.html\0.wav", 16}).status == 404);
    CHECK(answer_with_file("", "etc/passwd").status == 404);
}

TEST_CASE("no link leads out of a run's folder, and one inside is followed", "[service][files]") {
    const reports r;
    fs::create_symlink(r.above.path() / "secret.wav", r.folder / "sounds" / "link.wav");
    CHECK(answer_with_file(r.folder, "sounds/link.wav").status == 404);
    fs::create_directory_symlink(r.above.path(), r.folder / "up");
    CHECK(answer_with_file(r.folder, "up/secret.wav").status == 404);
    fs::create_symlink("a.wav", r.folder / "sounds" / "inside.wav");
    CHECK(answer_with_file(r.folder, "sounds/inside.wav").body == "the sound");
}
