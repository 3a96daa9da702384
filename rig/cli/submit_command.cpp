#include <fmt/format.h>
#include <chrono>
#include <filesystem>
#include <iostream>
#include <nlohmann/json.hpp>
#include <thread>

#include "rig/cli/asked_build.hpp"
#include "rig/cli/service_arguments.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/service/client.hpp"

namespace cvrig {

namespace {

using json = nlohmann::json;

json good(const service::daemon_answer& a) {
    service::require_good(a);
    auto out = json::parse(a.body, nullptr, false);
    if (!out.is_object()) throw user_error{"The daemon answered with what is no answer."};
    return out;
}

/// What ended a job, as the status of `cvrig run`; nothing while it waits or runs.
std::optional<exit_status> status_of_job(const json& job) {
    const auto state = job.value("state", "");
    if (state == "waiting" || state == "running") return std::nullopt;
    if (state != "done") {
        const auto why = job.value("why", "");
        throw user_error{fmt::format("The job {} was {}{}{}", job.value("id", 0),
                                     state == "failed" ? "not judged" : "stopped",
                                     why.empty() ? "." : ": ", why)};
    }
    const auto verdict = job["verdict"].is_string() ? job["verdict"].get<std::string>() : "";
    std::cout << fmt::format("{}: {}, run {}\n", verdict, job.value("build", ""),
                             job["run"].dump());
    if (verdict == "pass") return exit_status::passed;
    return verdict == "fail" ? exit_status::failed : exit_status::undecided;
}

exit_status wait_for(const service::daemon_client& daemon, std::int64_t id) {
    constexpr std::chrono::milliseconds between_looks{300};
    const interrupts stop;
    while (!stop.token().stop_requested()) {
        const auto job = good(daemon.get(fmt::format("/api/jobs/{}", id)));
        if (const auto done = status_of_job(job)) return *done;
        std::this_thread::sleep_for(between_looks);
    }
    std::cerr << "cvrig: No longer waiting; the job stays in the queue.\n";
    return exit_status::undecided;
}

}  // namespace

exit_status submit_command(const submit_arguments& a) {
    require_image(a.image, bench{});
    const service::daemon_client daemon{service::find_daemon(a.bench)};
    const json asked{{"image", std::filesystem::absolute(a.image).lexically_normal().string()},
                     {"build", a.build_name},
                     {"commit", a.commit},
                     {"unit", a.unit}};
    const auto told = good(daemon.post("/api/jobs", asked.dump()));
    const auto id = told.value("id", std::int64_t{0});
    if (!a.wait) {
        std::cout << fmt::format("Job {} waits its turn.\n", id);
        return exit_status::passed;
    }
    return wait_for(daemon, id);
}

}  // namespace cvrig
