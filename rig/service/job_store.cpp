#include "rig/service/job_store.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <utility>

#include "rig/platform/utc_now.hpp"

namespace cvrig::service {

namespace {

using history::sql_value;
using history::sql_values;
using history::transaction;
using namespace std::string_literals;

constexpr auto replaced = "replaced by a newer image";

constexpr std::array all_states{job_state::waiting, job_state::running, job_state::done,
                                job_state::stopped, job_state::failed};

sql_value text(std::string_view s) {
    return std::string{s};
}

sql_value whole_or_null(std::optional<int> n) {
    if (!n) return {};
    return std::int64_t{*n};
}

job_state state_of(const std::string& word) {
    const auto found =
        std::ranges::find_if(all_states, [&](job_state s) { return in_words(s) == word; });
    return found == all_states.end() ? job_state::failed : *found;
}

constexpr std::string_view counted(unfinished how) noexcept {
    switch (how) {
        case unfinished::handed_over:
            return ", attempts = attempts - 1";
        case unfinished::crashed:
            return ", crashes = crashes + 1";
        case unfinished::cut_off:
            break;
    }
    return "";
}

constexpr auto columns =
    "SELECT jobs.id, job_key, image, image_sha256, build_name, commit_text, jobs.unit, asked, "
    "asked_by, state, attempts, jobs.started, ended, jobs.report_folder, exit_status, jobs.run, "
    "why, runs.verdict, jobs.expectations_sha256, crashes FROM jobs LEFT JOIN runs ON runs.id = "
    "jobs.run ";

job job_of(const history::sql_row& r) {
    job j;
    j.id = r.whole(0);
    j.key = r.text(1);
    j.image = r.text(2);
    j.image_sha256 = r.text(3);
    j.build_name = r.text(4);
    j.commit = r.text(5);
    j.unit = r.text(6);
    j.asked = r.text(7);
    j.asked_by = r.text(8);
    j.state = state_of(r.text(9));
    j.attempts = static_cast<int>(r.whole(10));
    j.started = r.text(11);
    j.ended = r.text(12);
    j.report_folder = r.text(13);
    if (!r.is_null(14)) j.exit_status = static_cast<int>(r.whole(14));
    if (!r.is_null(15)) j.run = r.whole(15);
    j.why = r.text(16);
    j.verdict = r.text(17);
    j.expectations_sha256 = r.text(18);
    j.crashes = static_cast<int>(r.whole(19));
    return j;
}

}  // namespace

std::string_view in_words(job_state s) noexcept {
    switch (s) {
        case job_state::waiting:
            return "waiting";
        case job_state::running:
            return "running";
        case job_state::done:
            return "done";
        case job_state::stopped:
            return "stopped";
        case job_state::failed:
            break;
    }
    return "failed";
}

job_store::job_store(history::database& db, std::string daemon)
    : db_{db}, daemon_{std::move(daemon)} {}

std::vector<job> job_store::jobs_where(const std::string& condition, const sql_values& values) {
    std::vector<job> out;
    for (const auto& row : db_.query(columns + condition, values)) out.push_back(job_of(row));
    return out;
}

void job_store::insert(const job& j) {
    db_.execute(
        "INSERT INTO jobs (job_key, daemon, image, image_sha256, expectations_sha256, build_name, "
        "commit_text, unit, asked, asked_by, state, attempts, report_folder, why) VALUES ($1, $2, "
        "$3, $4, $5, $6, $7, $8, $9, $10, 'waiting', 0, $11, '')",
        {j.key, daemon_, j.image, j.image_sha256, j.expectations_sha256, j.build_name, j.commit,
         j.unit, j.asked, j.asked_by, j.report_folder});
}

void job_store::ask_again(std::int64_t id, const job& j) {
    db_.execute(
        "UPDATE jobs SET state = 'waiting', why = '', ended = NULL, image = $1, build_name = $2, "
        "commit_text = $3, asked = $4, asked_by = $5, report_folder = $6 WHERE id = $7",
        {j.image, j.build_name, j.commit, j.asked, j.asked_by, j.report_folder, id});
}

std::optional<std::int64_t> job_store::add(const job& j) {
    const std::lock_guard lock{mutex_};
    transaction all{db_};
    const auto old = jobs_where("WHERE job_key = $1", {j.key});
    if (old.empty()) {
        insert(j);
    } else {
        if (old.front().state != job_state::stopped || old.front().why != replaced)
            return std::nullopt;
        ask_again(old.front().id, j);
    }
    const auto id = jobs_where("WHERE job_key = $1", {j.key}).front().id;
    all.commit();
    return id;
}

bool job_store::has_job_like(const job& j) {
    const std::lock_guard lock{mutex_};
    return !jobs_where(
                "WHERE daemon = $1 AND image_sha256 = $2 AND jobs.unit = $3 AND "
                "jobs.expectations_sha256 = $4 AND NOT (state = 'stopped' AND why = $5)",
                {daemon_, j.image_sha256, j.unit, j.expectations_sha256, text(replaced)})
                .empty();
}

std::optional<job> job_store::find(std::int64_t id) {
    const std::lock_guard lock{mutex_};
    auto found = jobs_where("WHERE jobs.id = $1 AND daemon = $2", {id, daemon_});
    return found.empty() ? std::nullopt : std::optional{std::move(found.front())};
}

std::vector<job> job_store::latest(int at_most) {
    const std::lock_guard lock{mutex_};
    return jobs_where("WHERE daemon = $1 ORDER BY jobs.id DESC LIMIT $2",
                      {daemon_, std::int64_t{at_most}});
}

std::vector<job> job_store::in_state(job_state s) {
    const std::lock_guard lock{mutex_};
    return jobs_where("WHERE daemon = $1 AND state = $2 ORDER BY jobs.id",
                      {daemon_, text(in_words(s))});
}

std::optional<job> job_store::begin_next(bool newest_first) {
    const std::lock_guard lock{mutex_};
    transaction all{db_};
    auto found = jobs_where("WHERE daemon = $1 AND state = 'waiting' ORDER BY jobs.id "s +
                                (newest_first ? "DESC" : "ASC") + " LIMIT 1",
                            {daemon_});
    if (found.empty()) return std::nullopt;
    auto& j = found.front();
    j.state = job_state::running;
    j.started = utc_now();
    ++j.attempts;
    db_.execute(
        "UPDATE jobs SET state = 'running', started = $1, attempts = $2, why = '' WHERE id = $3",
        {j.started, std::int64_t{j.attempts}, j.id});
    all.commit();
    return std::move(j);
}

void job_store::supersede(const std::string& image, const std::string& by_key) {
    const std::lock_guard lock{mutex_};
    db_.execute(
        "UPDATE jobs SET state = 'stopped', why = $1, ended = $2 WHERE daemon = $3 AND image = $4 "
        "AND job_key <> $5 AND state = 'waiting' AND asked_by = 'watch'",
        {text(replaced), utc_now(), daemon_, image, by_key});
}

void job_store::put_back(std::int64_t id, unfinished how) {
    const std::lock_guard lock{mutex_};
    db_.execute(
        fmt::format("UPDATE jobs SET state = 'waiting'{} WHERE id = $1 AND state = 'running'",
                    counted(how)),
        {id});
}

void job_store::settle(std::int64_t id, job_state s, const std::string& why,
                       std::optional<int> exit_status) {
    db_.execute("UPDATE jobs SET state = $1, why = $2, ended = $3, exit_status = $4 WHERE id = $5",
                {text(in_words(s)), why, utc_now(), whole_or_null(exit_status), id});
}

void job_store::stop(std::int64_t id, const std::string& why) {
    const std::lock_guard lock{mutex_};
    settle(id, job_state::stopped, why, std::nullopt);
}

bool job_store::stop_if_waiting(std::int64_t id, const std::string& why) {
    const std::lock_guard lock{mutex_};
    transaction all{db_};
    if (jobs_where("WHERE jobs.id = $1 AND daemon = $2 AND state = 'waiting'", {id, daemon_})
            .empty())
        return false;
    settle(id, job_state::stopped, why, std::nullopt);
    all.commit();
    return true;
}

void job_store::fail(std::int64_t id, const std::string& why, std::optional<int> exit_status) {
    const std::lock_guard lock{mutex_};
    settle(id, job_state::failed, why, exit_status);
}

std::int64_t job_store::finish(const job& j, int exit_status,
                               const std::function<std::int64_t(history::database&)>& file) {
    const std::lock_guard lock{mutex_};
    transaction all{db_};
    const auto run = file(db_);
    settle(j.id, job_state::done, "", exit_status);
    db_.execute("UPDATE jobs SET run = $1 WHERE id = $2", {run, j.id});
    all.commit();
    return run;
}

void job_store::keep_hold(const std::string& why) {
    const std::lock_guard lock{mutex_};
    transaction all{db_};
    db_.execute("DELETE FROM holds WHERE daemon = $1", {daemon_});
    if (!why.empty())
        db_.execute("INSERT INTO holds (daemon, why) VALUES ($1, $2)", {daemon_, why});
    all.commit();
}

std::string job_store::hold() {
    const std::lock_guard lock{mutex_};
    const auto found = db_.query("SELECT why FROM holds WHERE daemon = $1", {daemon_});
    return found.empty() ? std::string{} : found.front().text(0);
}

}  // namespace cvrig::service
