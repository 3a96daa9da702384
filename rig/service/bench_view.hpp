#pragma once

#include <functional>
#include <mutex>
#include <nlohmann/json.hpp>
#include <optional>
#include <string>

#include "rig/service/job.hpp"

namespace cvrig::service {

/// What the bench does now, put together from what its run tells (rig/service/API.md). May be used
/// from any thread.
class bench_view {
public:
    using json = nlohmann::ordered_json;

    struct names {
        std::string module, bench, rig_version;
    };
    /// `tell` gets every change: the event's kind and its data.
    bench_view(names who, std::function<void(const std::string&, const json&)> tell);

    void begin(const job& j);
    /// A line that a run told (rig/service/run_events.hpp). What is no such line changes nothing.
    void hear(const std::string& line);
    void end();
    /// Whether the queue is held, and why; empty: it is not.
    void hold(const std::string& why);

    /// False if the run does not wait for the answer to the question of this number.
    [[nodiscard]] bool answered(int number);

    /// Everything.
    [[nodiscard]] json snapshot() const;
    [[nodiscard]] json levels() const;

private:
    [[nodiscard]] json without_levels() const;
    void tell_bench();
    void forget_run();

    names who_;
    std::function<void(const std::string&, const json&)> tell_;
    mutable std::mutex mutex_;
    std::string state_{"idle"};
    std::string state_before_asking_;
    std::string why_held_;
    json job_, asks_, meters_, trace_;
    json progress_;
};

}  // namespace cvrig::service
