#include "rig/service/job_runner.hpp"

#include <fmt/format.h>
#include <spdlog/logger.h>

#include <chrono>
#include <fstream>
#include <utility>

#include "rig/evidence/read_report.hpp"
#include "rig/history/file_run.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;
using steady = std::chrono::steady_clock;

constexpr int most_crashes = 3;
constexpr int most_interruptions = 10;
constexpr auto grace = 5s;  ///< between asking a run to stop and ending it
constexpr auto look_interval = 50ms;
constexpr auto before_next_try = 1s;

constexpr auto by_hand = "stopped by hand";

/// The last line that a run complained with, without the program's name.
std::string last_complaint(const std::string& text) {
    std::string last;
    for (std::size_t at = 0; at < text.size();) {
        const auto end = std::min(text.find('\n', at), text.size());
        auto line = text.substr(at, end - at);
        if (!line.empty()) last = std::move(line);
        at = end + 1;
    }
    constexpr std::string_view name{"cvrig: "};
    return last.starts_with(name) ? last.substr(name.size()) : last;
}

/// As `cvrig run` would have ended: its reports are there.
int exit_status_of(const evidence::told_run& run) {
    if (run.outcome == verdict::pass) return 0;
    return run.outcome == verdict::fail ? 1 : 3;
}

std::string first_line_of(const fs::path& file) {
    std::ifstream in{file};
    std::string line;
    std::getline(in, line);
    return line;
}

struct read_job_report {
    std::optional<evidence::told_run> told;
    std::string problem;
};

/// What the report of a job's run says, with what only the job knows.
read_job_report report_of(const job& j) {
    try {
        auto told = evidence::read_report_of(j.report_folder);
        if (told.commit.empty()) told.commit = j.commit;
        return {std::move(told), {}};
    } catch (const user_error& e) {
        return {std::nullopt, e.what()};
    }
}

void remove_reports(const fs::path& folder) {
    std::error_code ignored;
    for (const auto* name : {"report.html", "report.xml", "report.json"})
        fs::remove(folder / name, ignored);
}

}  // namespace

fs::path image_copy_of(const job& j) {
    return fs::path{j.report_folder} / "image" / fs::path{j.image}.filename();
}

std::vector<std::string> command_of(const job& j, const run_settings& s) {
    std::vector<std::string> out{
        s.program.string(), "run",      s.expectations,  "--bench", s.bench, "--image",
        image_copy_of(j),   "--report", j.report_folder, "--tell",  "3",     "--owned",
        "--quiet"};
    const auto add = [&](const char* option, const std::string& value) {
        if (!value.empty()) out.insert(out.end(), {option, value});
    };
    add("--unit", j.unit);
    add("--build-name", j.build_name);
    add("--commit", j.commit);
    add("--history", s.history);
    for (const auto& pair : s.with) add("--with", pair);
    if (s.unattended) out.emplace_back("--unattended");
    return out;
}

bool has_reports(const fs::path& folder) {
    // They are written in this order.
    return fs::is_regular_file(folder / "report.json") &&
           fs::is_regular_file(folder / "report.html");
}

job_runner::job_runner(job_store& jobs, bench_view& view, run_settings settings,
                       std::shared_ptr<spdlog::logger> log,
                       std::function<void(std::optional<std::int64_t>)> changed)
    : jobs_{jobs},
      view_{view},
      settings_{std::move(settings)},
      log_{std::move(log)},
      changed_{std::move(changed)} {
    if (fs::exists(settings_.hold_file)) {
        held_ = true;
        view_.hold(first_line_of(settings_.hold_file));
    }
    worker_ = std::jthread{[this] { work(); }};
}

job_runner::~job_runner() {
    {
        const std::lock_guard lock{mutex_};
        ending_ = true;
        asked_ = request::hand_over;
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
        held_ = !why.empty();
        has_news_ = true;
    }
    std::error_code ignored;
    // A daemon that is started again must not begin to play by itself what somebody had silenced.
    if (why.empty())
        fs::remove(settings_.hold_file, ignored);
    else
        write_file_atomically(settings_.hold_file, why + "\n");
    view_.hold(why);
    woken_.notify_all();
}

void job_runner::stop_at_once() {
    {
        const std::lock_guard lock{mutex_};
        held_ = true;
        if (running_ != 0 && !ending_) asked_ = request::stop;
    }
    woken_.notify_all();
    set_held(fmt::format("Stopped by hand at {}.", utc_now()));
}

void job_runner::go_on() {
    set_held("");
}

bool job_runner::cancel(std::int64_t id) {
    if (jobs_.stop_if_waiting(id, by_hand)) {
        changed_(std::nullopt);
        return true;
    }
    {
        const std::lock_guard lock{mutex_};
        if (running_ != id) return false;
        if (asked_ == request::none) asked_ = request::cancel;
    }
    woken_.notify_all();
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
    insist([this] { recover(); });
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
        if (!ending_) asked_ = request::none;
    }
}

void job_runner::recover() {
    for (const auto& j : jobs_.in_state(job_state::running)) recover(j);
    changed_(std::nullopt);
}

void job_runner::recover(const job& j) {
    if (has_reports(j.report_folder)) {
        log_->info("job {}: its run had ended before it was filed", j.id);
        file(j);
    } else if (j.attempts >= most_interruptions) {
        jobs_.fail(j.id, fmt::format("Its run was cut off {} times.", j.attempts), std::nullopt);
    } else {
        log_->info("job {}: its run was cut off and is done again", j.id);
        jobs_.put_back(j.id, true);
    }
}

std::optional<job> job_runner::wait_for_job() {
    std::unique_lock lock{mutex_};
    woken_.wait(lock, [this] { return ending_ || (has_news_ && !held_); });
    if (ending_) return std::nullopt;
    has_news_ = false;
    lock.unlock();
    auto next = jobs_.begin_next(settings_.newest_first);
    lock.lock();
    if (next) running_ = next->id;
    // Somebody may have asked for silence meanwhile.
    if (next && held_ && asked_ == request::none) asked_ = request::stop;
    return next;
}

void job_runner::run(const job& j) {
    log_->info("job {}: runs {} (attempt {})", j.id, j.image, j.attempts);
    remove_reports(j.report_folder);
    view_.begin(j);
    const auto command = command_of(j, settings_);
    program_end end;
    std::string complaint;
    {
        followed_program p{command, settings_.shared};
        if (p.problem().empty()) {
            end = follow(p);
            complaint = last_complaint(p.complaints());
        } else {
            end = {true, 2, 0};
            complaint = fmt::format("cannot start {}: {}", command.front(), p.problem());
        }
    }
    {
        // From here on there is nothing that could be stopped.
        const std::lock_guard lock{mutex_};
        running_ = 0;
    }
    view_.end();
    insist([&] { settle(j, end, complaint); });
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
            asked = asked_ != request::none;
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

void job_runner::settle(const job& j, const program_end& end, const std::string& complaint) {
    request asked{};
    {
        const std::lock_guard lock{mutex_};
        asked = asked_;
    }
    const bool has_verdict = end.exited && (end.status == 0 || end.status == 1 || end.status == 3);
    if (has_verdict && has_reports(j.report_folder)) {
        file(j);
        return;
    }
    if (asked == request::hand_over) {
        jobs_.put_back(j.id, false);
    } else if (asked != request::none) {
        jobs_.stop(j.id, by_hand);
    } else if (end.exited) {
        jobs_.fail(j.id, complaint.empty() ? "The run left no reports." : complaint, end.status);
    } else if (j.attempts >= most_crashes) {
        jobs_.fail(
            j.id,
            fmt::format("Its run crashed {} times: {}.", j.attempts, signal_in_words(end.signal)),
            std::nullopt);
    } else {
        jobs_.put_back(j.id, true);
    }
    log_->info("job {}: {}", j.id, complaint);
    changed_(std::nullopt);
}

void job_runner::file(const job& j) {
    const auto read = report_of(j);
    if (!read.told) {
        jobs_.fail(j.id, read.problem, std::nullopt);
        changed_(std::nullopt);
        return;
    }
    const auto& told = *read.told;
    const auto run = jobs_.finish(j, exit_status_of(told), [&](history::database& in) {
        return history::file_run(in, told,
                                 {.key = j.key,
                                  .filed = utc_now(),
                                  .report_folder = fs::absolute(j.report_folder).string(),
                                  .takes_kept = false})
            .id;
    });
    log_->info("job {}: filed as run {}, {}", j.id, run, in_words(told.outcome));
    changed_(run);
}

}  // namespace cvrig::service
