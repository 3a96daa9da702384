#include "rig/service/job_store.hpp"

#include <fmt/chrono.h>
#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <chrono>
#include <utility>

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

constexpr auto columns =
    "SELECT jobs.id, job_key, image, image_sha256, build_name, commit_text, jobs.unit, asked, "
    "asked_by, state, attempts, jobs.started, ended, jobs.report_folder, exit_status, jobs.run, "
    "why, runs.verdict FROM jobs LEFT JOIN runs ON runs.id = jobs.run ";

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

std::string utc_now() {
    const auto now = std::chrono::system_clock::to_time_t(std::chrono::system_clock::now());
    return fmt::format("{:%Y-%m-%dT%H:%M:%SZ}", fmt::gmtime(now));
}

job_store::job_store(history::database& db, std::string daemon)
    : db_{db}, daemon_{std::move(daemon)} {}

std::vector<job> job_store::jobs_where(const std::string& condition, const sql_values& values) {
    std::vector<job> out;
    for (const auto& row : db_.query(columns + condition, values)) out.push_back(job_of(row));
    return out;
}

std::optional<std::int64_t> job_store::add(const job& j) {
    const std::lock_guard lock{mutex_};
    transaction all{db_};
    const auto id_of_key = [&]() -> std::optional<job> {
        const auto found = jobs_where("WHERE job_key = $1", {j.key});
        return found.empty() ? std::nullopt : std::optional{found.front()};
    };
    if (const auto old = id_of_key()) {
        if (old->state != job_state::stopped || old->why != replaced) return std::nullopt;
        db_.execute("UPDATE jobs SET state = 'waiting', why = '', ended = NULL WHERE id = $1",
                    {old->id});
    } else {
        db_.execute(
            "INSERT INTO jobs (job_key, daemon, image, image_sha256, build_name, commit_text, "
            "unit, "
            "asked, asked_by, state, attempts, report_folder, why) VALUES ($1, $2, $3, $4, $5, $6, "
            "$7, $8, $9, 'waiting', 0, $10, '')",
            {j.key, daemon_, j.image, j.image_sha256, j.build_name, j.commit, j.unit, j.asked,
             j.asked_by, j.report_folder});
    }
    const auto id = id_of_key()->id;
    all.commit();
    return id;
}

bool job_store::knows_image(const std::string& sha256, const std::string& unit) {
    const std::lock_guard lock{mutex_};
    if (!jobs_where("WHERE daemon = $1 AND image_sha256 = $2 AND jobs.unit = $3 AND NOT (state = "
                    "'stopped' AND why = $4)",
                    {daemon_, sha256, unit, text(replaced)})
             .empty())
        return true;
    return !db_.query(
                   "SELECT runs.id FROM runs JOIN builds ON builds.id = runs.build JOIN units ON "
                   "units.id = runs.unit WHERE builds.sha256 = $1 AND units.name = $2 LIMIT 1",
                   {sha256, unit})
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

void job_store::put_back(std::int64_t id, bool counts) {
    const std::lock_guard lock{mutex_};
    db_.execute(
        "UPDATE jobs SET state = 'waiting', attempts = attempts - $1 WHERE id = $2 AND state = "
        "'running'",
        {std::int64_t{counts ? 0 : 1}, id});
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

}  // namespace cvrig::service
