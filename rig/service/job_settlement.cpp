#include "rig/service/job_settlement.hpp"

#include <fmt/format.h>
#include <spdlog/logger.h>

#include <filesystem>
#include <utility>

#include "rig/history/file_run.hpp"
#include "rig/platform/process.hpp"
#include "rig/platform/utc_now.hpp"
#include "rig/service/job_report.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;

constexpr int most_crashes = 3;
constexpr int most_interruptions = 10;

bool has_verdict(const program_end& end) {
    return end.exited && (end.status == 0 || end.status == 1 || end.status == 3);
}

}  // namespace

job_settlement::job_settlement(job_store& jobs, std::shared_ptr<spdlog::logger> log,
                               std::function<void(std::optional<std::int64_t>)> changed)
    : jobs_{jobs}, log_{std::move(log)}, changed_{std::move(changed)} {}

void job_settlement::recover() {
    for (const auto& j : jobs_.in_state(job_state::running)) recover(j);
    changed_(std::nullopt);
}

void job_settlement::recover(const job& j) {
    if (has_reports(j.report_folder)) {
        log_->info("job {}: its run had ended before it was filed", j.id);
        file(j);
    } else if (j.attempts - j.crashes >= most_interruptions) {
        jobs_.fail(j.id, fmt::format("Its run was cut off {} times.", j.attempts - j.crashes),
                   std::nullopt);
    } else {
        log_->info("job {}: its run was cut off and is done again", j.id);
        jobs_.put_back(j.id, unfinished::cut_off);
    }
}

void job_settlement::settle(const job& j, const run_end& end) {
    if (has_verdict(end.how) && has_reports(j.report_folder)) {
        file(j);
        return;
    }
    settle_without_verdict(j, end);
    changed_(std::nullopt);
}

void job_settlement::settle_without_verdict(const job& j, const run_end& end) {
    const auto fail = [&](const std::string& why, std::optional<int> status) {
        jobs_.fail(j.id, why, status);
        log_->warn("job {}: {}", j.id, why);
    };
    if (end.asked == run_request::hand_over) {
        jobs_.put_back(j.id, unfinished::handed_over);
        log_->info("job {}: waits for the next daemon", j.id);
    } else if (end.asked != run_request::none) {
        jobs_.stop(j.id, stopped_by_hand);
        log_->info("job {}: {}", j.id, stopped_by_hand);
    } else if (end.how.exited) {
        fail(end.complaint.empty() ? "The run left no reports." : end.complaint, end.how.status);
    } else if (const auto how = signal_in_words(end.how.signal); j.crashes + 1 >= most_crashes) {
        fail(fmt::format("Its run crashed {} times: {}.", j.crashes + 1, how), std::nullopt);
    } else {
        jobs_.put_back(j.id, unfinished::crashed);
        log_->warn("job {}: its run crashed ({}) and is done again{}{}", j.id, how,
                   end.complaint.empty() ? "" : "; the last it said: ", end.complaint);
    }
}

void job_settlement::file(const job& j) {
    const auto read = report_of(j);
    if (!read.told) {
        jobs_.fail(j.id, read.problem, std::nullopt);
        changed_(std::nullopt);
        return;
    }
    const auto& told = *read.told;
    const auto run = jobs_.finish(j, exit_status_of(told), [&](history::database& in) {
        return history::file_run(in, told,
                                 {.key = read.key,
                                  .filed = utc_now(),
                                  .report_folder = fs::absolute(j.report_folder).string(),
                                  .takes_kept = false})
            .id;
    });
    log_->info("job {}: filed as run {}, {}", j.id, run, in_words(told.outcome));
    changed_(run);
}

}  // namespace cvrig::service
