#pragma once

#include <cstdint>
#include <functional>
#include <memory>
#include <optional>
#include <string>

#include "rig/platform/followed_program.hpp"
#include "rig/service/job_store.hpp"

namespace spdlog {
class logger;
}

namespace cvrig::service {

inline constexpr auto stopped_by_hand = "stopped by hand";

/// What was asked of a run while it ran.
enum class run_request { none, stop, cancel, hand_over };

struct run_end {
    program_end how;
    std::string complaint;  ///< the last that it said
    run_request asked{run_request::none};
};

/// Files what came of a job's run.
///
/// A run that ends by itself without a verdict fails its job; one that crashes is tried again, three
/// times in all. Whatever a daemon before this one left running is filed, if its reports are whole,
/// or else waits again, unless that has happened ten times. Every member throws history::store_error
/// for what the store refuses, and then nothing has been done: call it again.
class job_settlement {
public:
    /// `changed` is called whenever the queue did, with the run that was filed, if one was. `jobs` must
    /// outlive this.
    job_settlement(job_store& jobs, std::shared_ptr<spdlog::logger> log,
                   std::function<void(std::optional<std::int64_t>)> changed);

    /// Settles what a daemon before this one left running.
    void recover();
    void settle(const job& j, const run_end& end);

private:
    void recover(const job& j);
    void settle_without_verdict(const job& j, const run_end& end);
    void file(const job& j);

    job_store& jobs_;
    std::shared_ptr<spdlog::logger> log_;
    std::function<void(std::optional<std::int64_t>)> changed_;
};

}  // namespace cvrig::service
