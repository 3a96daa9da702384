#pragma once

#include <condition_variable>
#include <cstdint>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <span>
#include <string>
#include <thread>
#include <vector>

#include "rig/platform/followed_program.hpp"
#include "rig/service/bench_view.hpp"
#include "rig/service/job_store.hpp"

namespace spdlog {
class logger;
}

namespace cvrig::service {

/// How the daemon's runs are started.
struct run_settings {
    std::filesystem::path program;  ///< cvrig itself
    std::string expectations, bench;
    std::string history;            ///< address; the runs read it, and file nothing
    std::vector<std::string> with;  ///< name=value
    bool unattended{false};
    bool newest_first{false};
    std::filesystem::path hold_file;  ///< there while the queue is held; says why
    std::vector<int> shared;          ///< locks that the runs hold as well
};

/// The image of a job as it was when it was found: in the job's own folder, so that what is judged
/// does not change with what lies where it was found.
[[nodiscard]] std::filesystem::path image_copy_of(const job& j);

/// The command of a job's run.
[[nodiscard]] std::vector<std::string> command_of(const job& j, const run_settings& s);

/// Whether a run left all of its reports.
[[nodiscard]] bool has_reports(const std::filesystem::path& folder);

/// Runs one job after the other, each in a process of its own, and files what came of it.
///
/// A run that ends by itself without a verdict fails its job; one that crashes is tried again, three
/// times in all. Whatever a daemon before this one left running is filed, if its reports are whole,
/// or else waits again, unless that has happened ten times.
class job_runner {
public:
    /// `changed` is called whenever the queue did, with the run that was filed, if one was. All must
    /// outlive the runner.
    job_runner(job_store& jobs, bench_view& view, run_settings settings,
               std::shared_ptr<spdlog::logger> log,
               std::function<void(std::optional<std::int64_t>)> changed);
    job_runner(const job_runner&) = delete;
    job_runner& operator=(const job_runner&) = delete;
    /// Hands over: what runs is stopped, so that outputs return to 0 V, and waits again.
    ~job_runner();

    /// There may be something new to run.
    void wake();
    /// Stops what runs, and holds the queue.
    void stop_at_once();
    void go_on();
    /// False if that job neither waits nor runs.
    [[nodiscard]] bool cancel(std::int64_t id);
    /// Answers the operator's question of that number; false if it is not asked. `answer` is done,
    /// skip or end.
    [[nodiscard]] bool answer(int number, const std::string& answer);

private:
    enum class request { none, stop, cancel, hand_over };

    void work();
    void recover();
    void recover(const job& j);
    [[nodiscard]] std::optional<job> wait_for_job();
    void run(const job& j);
    [[nodiscard]] program_end follow(followed_program& p);
    void settle(const job& j, const program_end& end, const std::string& complaint);
    void file(const job& j);
    void set_held(const std::string& why);
    [[nodiscard]] bool is_ending();
    template <class Act>
    void insist(const Act& act);

    job_store& jobs_;
    bench_view& view_;
    run_settings settings_;
    std::shared_ptr<spdlog::logger> log_;
    std::function<void(std::optional<std::int64_t>)> changed_;

    std::mutex mutex_;
    std::condition_variable woken_;
    bool ending_{false};
    bool held_{false};
    bool has_news_{true};
    std::int64_t running_{0};
    request asked_{request::none};
    std::vector<std::string> answers_;
    std::jthread worker_;
};

}  // namespace cvrig::service
