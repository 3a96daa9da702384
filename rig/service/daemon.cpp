#include "rig/service/daemon.hpp"

#include <fmt/format.h>
#include <spdlog/logger.h>
#include <spdlog/sinks/stdout_sinks.h>

#include <chrono>
#include <filesystem>
#include <map>
#include <memory>
#include <optional>
#include <thread>
#include <utility>

#include "rig/bench/bench.hpp"
#include "rig/console/fill_in.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/platform/parent.hpp"
#include "rig/platform/secrets.hpp"
#include "rig/platform/supervisor.hpp"
#include "rig/platform/this_machine.hpp"
#include "rig/run/plan.hpp"
#include "rig/service/api.hpp"
#include "rig/service/bench_ownership.hpp"
#include "rig/service/daemon_address.hpp"
#include "rig/service/job_json.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

/// What a daemon that was killed has started needs to bring its outputs to 0 V and to end.
constexpr auto patience = 15s;

std::shared_ptr<spdlog::logger> open_log() {
    auto log = std::make_shared<spdlog::logger>("serve",
                                                std::make_shared<spdlog::sinks::stderr_sink_mt>());
    log->set_pattern("%Y-%m-%dT%H:%M:%S.%e %l %v");
    log->flush_on(spdlog::level::info);
    return log;
}

fs::path made_folder(const std::string& name) {
    std::error_code failed;
    fs::create_directories(name, failed);
    if (failed || !fs::is_directory(name))
        throw user_error{fmt::format(
            "The folder {} for reports cannot be made; choose another with --reports.", name)};
    return fs::canonical(name);
}

/// The bench as its runs will see it, so that two daemons do not share one console.
bench named(bench b, const serve_options& o) {
    if (!b.audio || !b.console) return b;
    std::map<std::string, std::string> names{{"unit", o.unit}};
    for (const auto& pair : o.with) {
        const auto equals = pair.find('=');
        if (equals == std::string::npos || equals == 0)
            throw user_error{fmt::format("--with wants name=value, but got '{}'.", pair)};
        names[pair.substr(0, equals)] = pair.substr(equals + 1);
    }
    b.console = filled_in(*b.console, names);
    return b;
}

std::vector<int> numbers_of(const std::vector<bench_lock>& locks) {
    std::vector<int> out;
    for (const auto& lock : locks) out.push_back(lock.number());
    return out;
}

run_settings settings_of(const serve_options& o, const std::vector<bench_lock>& locks) {
    return {.program = o.program,
            .expectations = fs::absolute(o.expectations).string(),
            .bench = fs::absolute(o.bench).string(),
            .history = o.history,
            .with = o.with,
            .unattended = o.unattended,
            .newest_first = o.newest_first,
            .shared = numbers_of(locks)};
}

/// On a server, several machines may have a bench file of the same path.
std::string name_of_daemon(const serve_options& o, const bench& b) {
    auto file = fs::canonical(b.file).string();
    if (!history::is_server(o.history)) return file;
    return fmt::format("{} on {}", file, this_machine());
}

/// The file by which `cvrig submit` and `cvrig status` find the daemon, for as long as it lives.
class told_address {
public:
    told_address(fs::path file, const daemon_address& a) : file_{std::move(file)} {
        write_address(file_, a);
    }
    ~told_address() {
        std::error_code ignored;
        fs::remove(file_, ignored);
    }
    told_address(const told_address&) = delete;
    told_address& operator=(const told_address&) = delete;

private:
    fs::path file_;
};

class daemon {
public:
    daemon(const serve_options& o, const bench& b, const module_expectations& m,
           const std::vector<bench_lock>& locks)
        : options_{o},
          bench_{b},
          module_{m},
          reports_{made_folder(o.reports)},
          db_{history::open_history(o.history, history::opening::to_write)},
          jobs_{*db_, name_of_daemon(o, b)},
          view_{{m.module, b.name, o.rig_version},
                [this](const std::string& kind, const bench_view::json& data) {
                    hub_.tell(kind, text_of(data));
                }},
          runner_{jobs_, view_, settings_of(o, locks), log_,
                  [this](std::optional<std::int64_t> run) { tell_queue(run); }},
          intake_{jobs_,
                  {.reports = reports_,
                   .unit = o.unit,
                   .expectations = fs::absolute(o.expectations),
                   .daemon = name_of_daemon(o, b)}} {}

    void run(const std::stop_token& stop, const std::function<void(const std::string&)>& ready) {
        std::optional<image_watch> watch;
        if (!options_.watch.empty())
            watch.emplace(std::vector<fs::path>{options_.watch.begin(), options_.watch.end()});
        const auto token = unguessable();
        http_server server{token, [this](const std::string& what) { log_->error("{}", what); }};
        add_api(server, {jobs_, intake_, runner_, view_, hub_, options_.history});
        const int port = server.bind(options_.port);
        const told_address told{address_file_of(claim_on_file(bench_).lock),
                                {own_number(), port, token, bench_.name,
                                 fs::canonical(bench_.file).string(), module_.module}};
        server.start();
        log_->info("serves {} on bench {}, port {}", module_.module, bench_.name, port);
        ready(fmt::format("http://127.0.0.1:{}/#token={}", port, token));
        tell_supervisor("READY=1");
        while (!stop.stop_requested()) look_for_images(watch);
        tell_supervisor("STOPPING=1");
        log_->info("stops; what runs is handed over");
        // The outputs do not wait for whoever still reads or writes.
        runner_.hand_over();
        hub_.close();
    }

private:
    void tell_queue(std::optional<std::int64_t> run) {
        try {
            hub_.tell("queue", text_of(json_of(jobs_.latest(jobs_shown))));
        } catch (const user_error& e) {
            // Who looks at the page sees the next state.
            log_->error("the page was not told of the queue: {}", e.what());
        }
        if (run) hub_.tell("filed", text_of({{"run", *run}}));
    }

    void look_for_images(std::optional<image_watch>& watch) {
        constexpr auto look = 200ms;
        if (!watch) {
            std::this_thread::sleep_for(look);
            return;
        }
        for (const auto& image : watch->next(look))
            if (!takes_in(image)) watch->find_again(image.file);
        for (const auto& problem : watch->problems()) log_->warn("{}", problem);
    }

    /// False if that must be tried again: the store is locked, or its disk is full.
    [[nodiscard]] bool takes_in(const found_image& image) {
        try {
            if (const auto id = intake_.found(image)) {
                log_->info("job {}: found {}", *id, image.file.string());
                runner_.wake();
            } else {
                log_->info("{} is known already", image.file.string());
            }
            last_problem_.clear();
        } catch (const user_error& e) {
            auto problem = fmt::format("{} is not taken in yet: {}", image.file.string(), e.what());
            if (problem != last_problem_) log_->error("{}", problem);
            last_problem_ = std::move(problem);
            return false;
        }
        tell_queue(std::nullopt);
        return true;
    }

    const serve_options& options_;
    const bench& bench_;
    const module_expectations& module_;
    fs::path reports_;
    std::shared_ptr<spdlog::logger> log_{open_log()};
    event_hub hub_;
    std::unique_ptr<history::database> db_;
    job_store jobs_;
    bench_view view_;
    job_runner runner_;
    image_intake intake_;
    std::string last_problem_;
};

}  // namespace

void serve(const serve_options& o, const std::stop_token& stop,
           const std::function<void(const std::string&)>& ready) {
    const auto m = read_expectations(o.expectations, all_specs());
    const auto b = read_bench(o.bench);
    if (auto wrong = mismatches(b, m); !wrong.empty()) throw user_error{std::move(wrong)};
    static_cast<void>(plan_run(m, b));
    const auto locks = own(claims_to_serve(named(b, o)), o.command, patience);
    daemon{o, b, m, locks}.run(stop, ready);
}

}  // namespace cvrig::service
