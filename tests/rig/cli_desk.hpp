#pragma once

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>
#include <fstream>
#include <sstream>
#include <string>
#include <vector>

#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"

/// The real program at a desk of its own: files to run it with, and what is left when it has ended.
namespace cvrig::testing {

namespace fs = std::filesystem;

struct ended {
    int status;
    std::string out, err;
};

inline ended start(const std::vector<std::string>& command) {
    const auto r = run_process(command);
    CAPTURE(r.signal, r.err.text);
    REQUIRE(r.how == process_result::ending::exited);
    return {r.status, r.out.text, r.err.text};
}

inline ended cvrig_with(std::vector<std::string> arguments) {
    arguments.insert(arguments.begin(), CVRIG_PROGRAM);
    return start(arguments);
}

inline std::string read(const fs::path& file) {
    std::ifstream in{file};
    std::ostringstream out;
    out << in.rdbuf();
    return out.str();
}

inline std::string expectations_with(const std::string& level, const std::string& note = "1 V") {
    return "format: cvrig expectations 1\nmodule: Ferrule\npitch: {at 0 V: C2, per octave: 1 V}\n"
           "drive:\n  pitch: {from: 0 V, to: 4 V}\n  gate: {low: 0 V, high: 5 V}\n"
           "listen: [left, right]\nsettings:\n  mode: {values: [tied]}\njudging: {retakes: 0}\n"
           "checks:\n  level: {note: " +
           note + ", level: " + level + "}\n  stereo: {note: " + note +
           ", gain difference: within 0.3 dB}\n";
}

inline std::string program(const std::string& first, const std::string& rest = "") {
    return first + ", \"{stimulus}\", \"{response}\", \"{settings}\"" + rest;
}

inline std::string good_program() {
    return program("\"" FERRULE_PROGRAM "\", render", ", \"jacks=pitch,gate\"");
}

inline std::string rogue(const std::string& mode) {
    return program("\"" CVRIG_ROGUE "\", " + mode);
}

/// `text` with `from` in it replaced by `to`.
inline std::string replaced(std::string text, const std::string& from, const std::string& to) {
    const auto at = text.find(from);
    REQUIRE(at != std::string::npos);
    return text.replace(at, from.size(), to);
}

/// A folder with an expectation file, a bench file and the arguments of a run.
struct desk {
    temporary_folder folder;
    fs::path expectations = folder.path() / "module.yaml";
    fs::path bench = folder.path() / "bench.yaml";
    fs::path report = folder.path() / "report";

    explicit desk(const std::string& command = good_program(),
                  const std::string& time_limit = "20 s") {
        write_file_atomically(expectations, expectations_with("between 6 dBu and 12 dBu"));
        write_file_atomically(bench, "format: cvrig bench 1\nname: test\nlink: {program: [" +
                                         command + "], rate: 48 kHz, time limit: " + time_limit +
                                         "}\noutputs:\n  - {jack: pitch, limits: -0.1 V to 5 V}\n"
                                         "  - {jack: gate, limits: 0 V to 5.5 V}\n"
                                         "inputs: [{jack: left}, {jack: right}]\n");
    }
    [[nodiscard]] std::vector<std::string> arguments(std::vector<std::string> more = {}) const {
        std::vector<std::string> all{"run",      expectations.string(), "--bench", bench.string(),
                                     "--report", report.string()};
        all.insert(all.end(), more.begin(), more.end());
        return all;
    }
    [[nodiscard]] ended run(std::vector<std::string> more = {}) const {
        return cvrig_with(arguments(std::move(more)));
    }
    /// Runs a line of the shell in which "$@" is the program with its arguments.
    [[nodiscard]] ended run_in_shell(const std::string& line) const {
        std::vector<std::string> all{"/bin/sh", "-c", line, "sh", CVRIG_PROGRAM};
        const auto more = arguments();
        all.insert(all.end(), more.begin(), more.end());
        return start(all);
    }
};

/// Names in a folder, in order, but for the run's log, which is written as the run goes.
inline std::vector<std::string> left_in(const fs::path& folder) {
    std::vector<std::string> names;
    if (!fs::is_directory(folder)) return names;
    for (const auto& entry : fs::directory_iterator{folder})
        if (entry.path().filename() != "run.log") names.push_back(entry.path().filename());
    std::ranges::sort(names);
    return names;
}

inline const std::vector<std::string> all_reports{"report.html", "report.json", "report.xml"};

inline bool is_one_sentence(const std::string& err) {
    return err.starts_with("cvrig: ") && std::ranges::count(err, '\n') == 1 && err.back() == '\n' &&
           err.size() > 20;
}

inline void check_refused(const ended& r, const fs::path& report, int status = 2) {
    CAPTURE(r.err, r.out);
    CHECK(r.status == status);
    CHECK(is_one_sentence(r.err));
    CHECK(r.out.empty());
    CHECK(left_in(report).empty());
}

/// The same with and without --bisect.
inline void check_refused_either_way(const desk& d, std::vector<std::string> more = {}) {
    check_refused(d.run(more), d.report, 2);
    more.insert(more.begin(), "--bisect");
    check_refused(d.run(more), d.report, 125);
}

}  // namespace cvrig::testing
