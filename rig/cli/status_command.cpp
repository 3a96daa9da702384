#include <fmt/format.h>
#include <iostream>
#include <nlohmann/json.hpp>

#include "rig/cli/service_arguments.hpp"
#include "rig/expectations/dimension.hpp"
#include "rig/service/client.hpp"

namespace cvrig {

namespace {

using json = nlohmann::json;

std::string job_line(const json& job) {
    auto line = fmt::format("  {:>4}  {:<8} {}", job.value("id", 0), job.value("state", ""),
                            job.value("build", ""));
    if (const auto commit = job.value("commit", ""); !commit.empty()) line += " (" + commit + ")";
    if (job["verdict"].is_string()) line += ": " + job["verdict"].get<std::string>();
    if (const auto why = job.value("why", ""); !why.empty()) line += ": " + why;
    return line;
}

void print_bench(const json& bench) {
    std::cout << fmt::format("{} on bench {}: {}\n", bench.value("module", ""),
                             bench.value("bench", ""), bench.value("state", ""));
    if (bench.value("held", false))
        std::cout << "The queue is held: " << bench.value("why_held", "") << '\n';
    if (!bench["job"].is_object()) return;
    std::cout << fmt::format("Build {}, unit {}\n", bench["job"].value("build", ""),
                             bench["job"].value("unit", ""));
    if (bench.value("takes", 0) > 0)
        std::cout << fmt::format("Take {} of {}: {}; {} left\n", bench.value("take", 0),
                                 bench.value("takes", 0), bench.value("plays", ""),
                                 show(bench.value("left_s", 0.0), dimension::seconds));
    if (bench["asks"].is_object())
        std::cout << "Asks: " << bench["asks"].value("instruction", "") << '\n';
}

json good(const service::daemon_answer& a) {
    service::require_good(a);
    auto out = json::parse(a.body, nullptr, false);
    if (!out.is_object()) throw user_error{"The daemon answered with what is no answer."};
    return out;
}

void print_status(const json& bench, const json& queue, const service::daemon_address& at) {
    constexpr std::size_t most = 10;
    print_bench(bench);
    std::cout << fmt::format("Page: http://127.0.0.1:{}/#token={}\n", at.port, at.token);
    const auto& jobs = queue.at("jobs");
    if (!jobs.empty()) std::cout << "\nJobs, newest first:\n";
    for (std::size_t i = 0; i < jobs.size() && i < most; ++i)
        std::cout << job_line(jobs[i]) << '\n';
    if (jobs.size() > most) std::cout << fmt::format("  and {} older ones\n", jobs.size() - most);
}

}  // namespace

exit_status status_command(const status_arguments& a) {
    try {
        const auto address = service::find_daemon(a.bench);
        const service::daemon_client daemon{address};
        const auto bench = good(daemon.get("/api/bench"));
        const auto queue = good(daemon.get("/api/queue"));
        if (a.json)
            std::cout << json{{"bench", bench}, {"queue", queue}}.dump(2) << '\n';
        else
            print_status(bench, queue, address);
        return exit_status::passed;
    } catch (const service::no_daemon& e) {
        std::cerr << "cvrig: " << e.what() << '\n';
        return exit_status::undecided;
    }
}

}  // namespace cvrig
