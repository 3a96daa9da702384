#include "live_judging.hpp"

#include <fmt/format.h>
#include <fstream>
#include <sstream>
#include <stdexcept>

#include "rig/platform/process.hpp"

namespace cvrig::test_support {

namespace {

namespace fs = std::filesystem;

const std::string demo = CVRIG_DEMO;
const std::string image = CVRIG_FIRMWARE "/good.hex";

std::string text_of(const fs::path& file) {
    std::ifstream in{file};
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

std::vector<std::string> joined(std::vector<std::string> a, const std::vector<std::string>& b) {
    a.insert(a.end(), b.begin(), b.end());
    return a;
}

}  // namespace

bool judged_run::tells(const std::string& words) const {
    return said.find(words) != std::string::npos || log.find(words) != std::string::npos ||
           report.dump().find(words) != std::string::npos;
}

std::string live_bench_file(const std::string& what, const std::string& with) {
    auto text = text_of(demo + "/live.bench.yaml");
    if (what.empty()) return text;
    const auto at = text.find(what);
    if (at == std::string::npos) throw std::runtime_error{"the bench file has no " + what};
    return text.replace(at, what.size(), with);
}

judging_bench::judging_bench(bool quick, const std::vector<std::string>& module_arguments) {
    live_bench_settings settings;
    settings.with_module = false;
    bench_ = std::make_unique<live_bench>(settings);
    const auto unit = fmt::format("unit={}", judged_unit);
    const std::vector<std::string> calibrate{FERRULE_PROGRAM, "calibrate", unit,
                                             "state=" + bench_->flash().string(), "image=" + image};
    if (run_process(calibrate).status != 0) throw std::runtime_error{"no calibration"};
    bench_->restart_module(joined({unit, "image=" + image}, module_arguments));
    if (quick) bench_->tell_desk("freewheel on");
    use_bench_file(live_bench_file());
}

void judging_bench::use_bench_file(const std::string& text) {
    bench_file_ = (bench_->folder() / "test.bench.yaml").string();
    std::ofstream{bench_file_} << text;
}

judged_run judging_bench::run_cvrig(std::vector<std::string> argv, const fs::path& reports) const {
    argv = joined(
        {CVRIG_PROGRAM, "run", demo + "/ferrule.expectations.yaml", "--image", image, "--unit",
         std::to_string(judged_unit), "--unattended", "--report", reports.string()},
        argv);
    process_options patience;
    patience.time_limit = seconds{100.0};
    const auto done = run_process(argv, patience);
    judged_run out;
    out.status = done.how == process_result::ending::exited ? done.status : -1;
    out.said = done.out.text + done.err.text;
    out.log = text_of(reports / "run.log");
    out.wall_seconds = done.wall.value();
    if (fs::exists(reports / "report.json"))
        out.report = nlohmann::json::parse(text_of(reports / "report.json"));
    return out;
}

fs::path judging_bench::reports_of_last() const {
    return bench_->folder() / fmt::format("report-{}", runs_);
}

fs::path judging_bench::next_reports() {
    ++runs_;
    return reports_of_last();
}

bool judging_bench::log_says(const std::string& words) const {
    return text_of(reports_of_last() / "run.log").find(words) != std::string::npos;
}

judged_run judging_bench::judge(const std::vector<std::string>& more) {
    return start(more).get();
}

std::future<judged_run> judging_bench::start(const std::vector<std::string>& more) {
    auto argv = joined({"--bench", bench_file_, "--with", "console=" + bench_->console()}, more);
    return std::async(std::launch::async, [this, argv = std::move(argv), reports = next_reports()] {
        return run_cvrig(argv, reports);
    });
}

judged_run judging_bench::judge_program(const std::vector<std::string>& more) {
    const auto argv = joined(
        {"--bench", demo + "/desk.bench.yaml", "--with", "state=" + bench_->flash().string()},
        more);
    return run_cvrig(argv, next_reports());
}

}  // namespace cvrig::test_support
