#pragma once

#include <future>
#include <nlohmann/json.hpp>
#include <string>
#include <vector>

#include "tests/support/live_bench.hpp"

namespace cvrig::test_support {

/// A run of cvrig as its user would see it.
struct judged_run {
    int status{-1};
    std::string said;       ///< stdout and stderr
    std::string log;        ///< run.log
    nlohmann::json report;  ///< null if none was written
    double wall_seconds{0.0};

    /// Whether any reason, problem or message has this in it.
    [[nodiscard]] bool tells(const std::string& words) const;
};

/// The specimen and the build that all these tests judge.
inline constexpr int judged_unit = 7;

/// A live bench with a calibrated unit 7, in freewheel if `quick`.
class judging_bench {
public:
    explicit judging_bench(bool quick, const std::vector<std::string>& module_arguments = {});

    [[nodiscard]] live_bench& parts() { return *bench_; }

    /// Runs `cvrig run` on it with these arguments more, and waits for its end (a minute at most).
    [[nodiscard]] judged_run judge(const std::vector<std::string>& more);

    /// The same beside the caller, who does something to the bench meanwhile.
    [[nodiscard]] std::future<judged_run> start(const std::vector<std::string>& more);

    /// The same expectations with the module's sound code as a program.
    [[nodiscard]] judged_run judge_program(const std::vector<std::string>& more);

    /// Whether the log of the run that was started last has these words.
    [[nodiscard]] bool log_says(const std::string& words) const;

    /// On a bench file of the test's own.
    void use_bench_file(const std::string& text);

private:
    [[nodiscard]] std::filesystem::path reports_of_last() const;
    [[nodiscard]] std::filesystem::path next_reports();
    [[nodiscard]] judged_run run_cvrig(std::vector<std::string> argv,
                                       const std::filesystem::path& reports) const;

    std::unique_ptr<live_bench> bench_;
    std::string bench_file_;
    int runs_{0};
};

/// The demo's live bench file, with one text in it replaced by another.
[[nodiscard]] std::string live_bench_file(const std::string& what = {},
                                          const std::string& with = {});

}  // namespace cvrig::test_support
