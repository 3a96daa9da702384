#include "rig/cli/describe_run.hpp"

#include <fmt/format.h>
#include <filesystem>
#include <utility>

#include "rig/diagnosis/diagnosis.hpp"
#include "rig/platform/utc_now.hpp"

namespace cvrig {

namespace fs = std::filesystem;

void require_fit(const bench& b, const module_expectations& m) {
    auto wrong = mismatches(b, m);
    if (!wrong.empty()) throw user_error{std::move(wrong)};
}

run_result describe(const run_identity& who, const module_expectations& m, const bench& b,
                    const std::string& link) {
    run_result r;
    r.module = m.module;
    r.build_name = who.build_name;
    r.build_sha256 = who.build_sha256;
    r.build_commit = who.build_commit;
    r.build_version = who.build_version;
    r.build_size_bytes = who.build_size_bytes;
    r.unit = who.unit;
    r.bench_name = b.name;
    r.link = link;
    r.expectations_file = fs::path{m.file}.filename().string();
    r.expectations_sha256 = m.sha256;
    r.bench_file = fs::path{b.file}.filename().string();
    r.bench_sha256 = b.sha256;
    r.rig_version = CVRIG_VERSION;
    r.started = utc_now();
    r.coverage_factor = m.coverage_factor;
    return r;
}

void fill(run_result& r, run_outcome outcome, const module_expectations& m, seconds wall) {
    r.takes = std::move(outcome.takes);
    r.checks = std::move(outcome.checks);
    diagnose(r.checks, m);
    r.sound = outcome.sound;
    r.analysis_cpu = outcome.analysis_cpu;
    r.wall = wall;
}

}  // namespace cvrig
