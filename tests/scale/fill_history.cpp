// Fills a history with runs of an invented module, for scripts/history-scale:
// fill_history FILE RUNS READINGS
#include <cstdlib>
#include <iostream>
#include <random>
#include <string>

#include "rig/history/file_run.hpp"

namespace {

using namespace cvrig;

/// A build as long-lived as a project's: every tenth run is of a new one, and one in a hundred moves a reading.
evidence::told_run run_of(std::size_t number, std::size_t readings, std::mt19937& random) {
    std::normal_distribution<double> noise{0.0, 0.2};
    evidence::told_run r;
    r.module = "Ferrule";
    r.build_name = "build " + std::to_string(number / 10);
    r.build_sha256 = std::to_string(number / 10);
    r.bench_name = number % 2 == 0 ? "desk" : "shelf";
    r.unit = std::to_string(number % 5);
    r.link = "program";
    r.started = "2026-11-30T10:00:00Z";
    r.rig_version = "0.1.0";
    const double level = static_cast<double>(number / 1000 % 3);
    evidence::told_check check{"tracking", {{"mode", "tied"}}, {}};
    for (std::size_t i = 0; i < readings; ++i) {
        evidence::told_finding f;
        f.name = "reading " + std::to_string(i);
        f.measured = evidence::told_reading{level + noise(random), 0.2, dimension::cents, "", 1};
        f.lower = -5.0;
        f.upper = 5.0;
        f.demand = "within 5 cent";
        f.outcome = verdict::pass;
        check.findings.push_back(std::move(f));
    }
    r.outcome = verdict::pass;
    r.checks.push_back(std::move(check));
    return r;
}

}  // namespace

int main(int argc, char** argv) {
    if (argc != 4) {
        std::cerr << "usage: fill_history FILE RUNS READINGS\n";
        return 2;
    }
    const auto runs = std::strtoul(argv[2], nullptr, 10);
    const auto readings = std::strtoul(argv[3], nullptr, 10);
    const auto db = cvrig::history::open_history(argv[1], cvrig::history::opening::to_write);
    std::mt19937 random{20261130};
    constexpr std::size_t together = 1000;
    for (std::size_t n = 0; n < runs;) {
        cvrig::history::transaction all{*db};
        for (std::size_t i = 0; i < together && n < runs; ++i, ++n)
            static_cast<void>(cvrig::history::file_run(
                *db, run_of(n, readings, random),
                {"run " + std::to_string(n), "2026-11-30T10:00:00Z", "", false}));
        all.commit();
    }
    return 0;
}
