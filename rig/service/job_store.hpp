#pragma once

#include <functional>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

#include "rig/history/database.hpp"
#include "rig/service/job.hpp"

namespace cvrig::service {

/// A run that was begun and left its job without a verdict.
enum class unfinished {
    handed_over,  ///< its daemon ended: as if it had not been begun
    cut_off,      ///< its daemon was killed
    crashed
};

/// The jobs of one daemon in the history's database. May be used from any thread. Every member throws
/// history::store_error for what the store refuses.
class job_store {
public:
    /// `daemon` tells this daemon's jobs from others in the same history; the same bench file gives
    /// the same. `db` must outlive the store and be used by nobody else.
    job_store(history::database& db, std::string daemon);

    /// Files a job as waiting. Nothing if there is one of this key, unless that was only stopped since
    /// something newer had replaced it: then it waits again, as it is asked for now.
    std::optional<std::int64_t> add(const job& j);

    /// Whether there is a job of this daemon for the same image, unit and expectation file, by whomever
    /// it was asked; one that was replaced before it ran is none.
    [[nodiscard]] bool has_job_like(const job& j);

    [[nodiscard]] std::optional<job> find(std::int64_t id);
    /// The newest first.
    [[nodiscard]] std::vector<job> latest(int at_most);
    /// The oldest first.
    [[nodiscard]] std::vector<job> in_state(job_state s);

    /// The next job, which is running from now on, with one attempt more; nothing if none waits.
    [[nodiscard]] std::optional<job> begin_next(bool newest_first);

    /// Jobs that wait for an image that lay where a newer one lies now are stopped.
    void supersede(const std::string& image, const std::string& by_key);

    /// Waiting again.
    void put_back(std::int64_t id, unfinished how);
    void stop(std::int64_t id, const std::string& why);
    /// False if it does not wait any more.
    [[nodiscard]] bool stop_if_waiting(std::int64_t id, const std::string& why);
    void fail(std::int64_t id, const std::string& why, std::optional<int> exit_status);

    /// Files the run and settles the job, both or neither. `file` writes into the database that it is
    /// given and returns the run's id.
    std::int64_t finish(const job& j, int exit_status,
                        const std::function<std::int64_t(history::database&)>& file);

    /// Why the queue is held; empty: it is not.
    void keep_hold(const std::string& why);
    [[nodiscard]] std::string hold();

private:
    [[nodiscard]] std::vector<job> jobs_where(const std::string& condition,
                                              const history::sql_values& values);
    void insert(const job& j);
    void ask_again(std::int64_t id, const job& j);
    void settle(std::int64_t id, job_state s, const std::string& why,
                std::optional<int> exit_status);

    history::database& db_;
    std::string daemon_;
    std::mutex mutex_;
};

}  // namespace cvrig::service
