#pragma once

#include <condition_variable>
#include <cstdint>
#include <functional>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <thread>
#include <vector>

#include "rig/platform/followed_program.hpp"
#include "rig/service/bench_view.hpp"
#include "rig/service/job_command.hpp"
#include "rig/service/job_settlement.hpp"
#include "rig/service/job_store.hpp"

namespace spdlog {
class logger;
}

namespace cvrig::service {

/// Runs one job after the other, each in a process of its own, and has filed what came of it
/// (job_settlement).
class job_runner {
public:
    /// `changed` is called whenever the queue did, with the run that was filed, if one was. All must
    /// outlive the runner.
    job_runner(job_store& jobs, bench_view& view, run_settings settings,
               std::shared_ptr<spdlog::logger> log,
               std::function<void(std::optional<std::int64_t>)> changed);
    job_runner(const job_runner&) = delete;
    job_runner& operator=(const job_runner&) = delete;
    ~job_runner();

    /// Ends: what runs is stopped, so that outputs return to 0 V, and waits again. Does not wait for that; the
    /// destructor does.
    void hand_over();

    /// There may be something new to run.
    void wake();
    /// Stops what runs, and holds the queue, over a restart as well. The outputs do not wait for the store.
    void stop_at_once();
    void go_on();
    /// False if that job neither waits nor runs.
    [[nodiscard]] bool cancel(std::int64_t id);
    /// Answers the operator's question of that number; false if it is not asked. `answer` is done,
    /// skip or end.
    [[nodiscard]] bool answer(int number, const std::string& answer);

private:
    void work();
    [[nodiscard]] std::optional<job> wait_for_job();
    [[nodiscard]] std::optional<job> begin_next();
    void run(const job& j);
    [[nodiscard]] run_end play(const job& j);
    [[nodiscard]] program_end follow(followed_program& p);
    void set_held(const std::string& why);
    void keep_hold();
    [[nodiscard]] bool is_ending();
    template <class Act>
    void insist(const Act& act);

    job_store& jobs_;
    bench_view& view_;
    run_settings settings_;
    std::shared_ptr<spdlog::logger> log_;
    std::function<void(std::optional<std::int64_t>)> changed_;
    job_settlement settlement_;

    std::mutex mutex_;
    std::condition_variable woken_;
    bool ending_{false};
    std::string held_;  ///< why; empty: it goes on
    bool hold_is_kept_{true};
    bool has_news_{true};
    bool begins_{false};  ///< the next job is being asked for
    std::int64_t running_{0};
    run_request asked_{run_request::none};
    std::vector<std::string> answers_;
    std::mutex keeping_hold_;
    std::jthread worker_;
};

}  // namespace cvrig::service
