#include "rig/service/job_runner.hpp"

#include <fmt/format.h>
#include <spdlog/logger.h>

#include <chrono>
#include <filesystem>
#include <system_error>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/process.hpp"
#include "rig/platform/utc_now.hpp"
#include "rig/service/job_report.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;
using steady = std::chrono::steady_clock;

constexpr auto grace = 5s;  ///< between asking a run to stop and ending it
constexpr auto look_interval = 50ms;
constexpr auto before_next_try = 1s;

}  // namespace

job_runner::job_runner(job_store& jobs, bench_view& view, run_settings settings,
                       std::shared_ptr<spdlog::logger> log,
                       std::function<void(std::optional<std::int64_t>)> changed)
    : jobs_{jobs},
      view_{view},
      settings_{std::move(settings)},
      log_{std::move(log)},
      changed_{std::move(changed)},
      settlement_{jobs_, log_, changed_} {
    // What somebody had silenced does not begin to play by itself since a daemon was started again.
    held_ = jobs_.hold();
    if (!held_.empty()) view_.hold(held_);
    worker_ = std::jthread{[this] { work(); }};
}

job_runner::~job_runner() {
    hand_over();
}

void job_runner::hand_over() {
    {
        const std::lock_guard lock{mutex_};
        ending_ = true;
        // What was stopped or cancelled by hand is not handed over.
        if (asked_ == run_request::none) asked_ = run_request::hand_over;
    }
    woken_.notify_all();
}

bool job_runner::is_ending() {
    const std::lock_guard lock{mutex_};
    return ending_;
}

void job_runner::wake() {
    {
        const std::lock_guard lock{mutex_};
        has_news_ = true;
    }
    woken_.notify_all();
}

void job_runner::set_held(const std::string& why) {
    {
        const std::lock_guard lock{mutex_};
        held_ = why;
        hold_is_kept_ = false;
        has_news_ = true;
        if (!why.empty() && running_ != 0 && asked_ == run_request::none)
            asked_ = run_request::stop;
    }
    woken_.notify_all();
    view_.hold(why);
    try {
        keep_hold();
    } catch (const user_error& e) {
        // The worker goes on trying.
        log_->error("that the queue is {} would not outlast this daemon yet: {}",
                    why.empty() ? "no longer held" : "held", e.what());
    }
}

void job_runner::keep_hold() {
    const std::lock_guard one_at_a_time{keeping_hold_};
    std::string why;
    {
        const std::lock_guard lock{mutex_};
        if (hold_is_kept_) return;
        why = held_;
    }
    jobs_.keep_hold(why);
    const std::lock_guard lock{mutex_};
    hold_is_kept_ = held_ == why;
}

void job_runner::stop_at_once() {
    set_held(fmt::format("Stopped by hand at {}.", utc_now()));
}

void job_runner::go_on() {
    set_held("");
}

bool job_runner::cancel(std::int64_t id) {
    if (jobs_.stop_if_waiting(id, stopped_by_hand)) {
        changed_(std::nullopt);
        return true;
    }
    std::unique_lock lock{mutex_};
    // It may run in the store already, and here only in a moment.
    woken_.wait(lock, [this] { return !begins_; });
    if (running_ != id) return false;
    if (asked_ == run_request::none) asked_ = run_request::cancel;
    return true;
}

bool job_runner::answer(int number, const std::string& answer) {
    if (!view_.answered(number)) return false;
    const std::lock_guard lock{mutex_};
    answers_.push_back(answer + "\n");
    return true;
}

/// The store may be busy, or its disk full for a while; nothing is lost by waiting.
template <class Act>
void job_runner::insist(const Act& act) {
    for (;;) {
        try {
            act();
            return;
        } catch (const user_error& e) {
            log_->error("{}", e.what());
        }
        std::unique_lock lock{mutex_};
        if (woken_.wait_for(lock, before_next_try, [this] { return ending_; })) return;
    }
}

void job_runner::work() {
    insist([this] { settlement_.recover(); });
    while (!is_ending()) {
        std::optional<job> next;
        insist([&] { next = wait_for_job(); });
        if (!next) continue;
        changed_(std::nullopt);
        run(*next);
        const std::lock_guard lock{mutex_};
        running_ = 0;
        has_news_ = true;
        answers_.clear();
        if (!ending_) asked_ = run_request::none;
    }
}

std::optional<job> job_runner::begin_next() {
    try {
        return jobs_.begin_next(settings_.newest_first);
    } catch (const user_error&) {
        {
            const std::lock_guard lock{mutex_};
            begins_ = false;
            has_news_ = true;  // there may still be something
        }
        woken_.notify_all();
        throw;
    }
}

std::optional<job> job_runner::wait_for_job() {
    std::unique_lock lock{mutex_};
    woken_.wait(lock, [this] { return ending_ || !hold_is_kept_ || (has_news_ && held_.empty()); });
    if (ending_) return std::nullopt;
    if (!hold_is_kept_) {
        lock.unlock();
        keep_hold();
        return std::nullopt;
    }
    // Before the question, so that what comes while it is asked is not missed.
    has_news_ = false;
    begins_ = true;
    lock.unlock();
    auto next = begin_next();
    lock.lock();
    begins_ = false;
    if (next) running_ = next->id;
    woken_.notify_all();
    // Somebody may have asked for silence meanwhile.
    if (next && !held_.empty() && asked_ == run_request::none) asked_ = run_request::stop;
    return next;
}

void job_runner::run(const job& j) {
    log_->info("job {}: runs {} (attempt {})", j.id, j.image, j.attempts);
    remove_reports(j.report_folder);
    view_.begin(j);
    auto end = play(j);
    {
        // From here on there is nothing that could be stopped.
        const std::lock_guard lock{mutex_};
        running_ = 0;
        end.asked = asked_;
    }
    view_.end();
    insist([&] { settlement_.settle(j, end); });
}

run_end job_runner::play(const job& j) {
    const auto command = command_of(j, settings_);
    const auto not_started = [&](const std::string& why) {
        return run_end{{true, 2, 0}, fmt::format("cannot start {}: {}", command.front(), why), {}};
    };
    try {
        followed_program p{command, settings_.shared, variables_of(settings_)};
        if (!p.problem().empty()) return not_started(p.problem());
        const auto how = follow(p);
        return {how, last_complaint(p.complaints()), {}};
    } catch (const std::system_error& e) {
        return not_started(e.what());
    }
}

program_end job_runner::follow(followed_program& p) {
    std::optional<steady::time_point> asked_at;
    bool is_killed = false;
    for (;;) {
        for (const auto& line : p.lines(look_interval)) view_.hear(line);
        std::vector<std::string> answers;
        bool asked = false;
        {
            const std::lock_guard lock{mutex_};
            answers = std::exchange(answers_, {});
            asked = asked_ != run_request::none;
        }
        for (const auto& answer : answers) p.write(answer);
        if (asked && !asked_at) {
            p.interrupt();
            asked_at = steady::now();
        }
        if (asked_at && !is_killed && steady::now() - *asked_at > grace) {
            p.kill();
            is_killed = true;
        }
        if (const auto end = p.end()) return *end;
    }
}

}  // namespace cvrig::service
