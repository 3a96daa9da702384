#include "tests/support/live_bench.hpp"

#include <unistd.h>

#include <atomic>
#include <csignal>
#include <cstdlib>
#include <stdexcept>

#include "rig/platform/process.hpp"

namespace cvrig::test_support {
namespace {

using namespace std::chrono_literals;

std::string unused_server_name() {
    static std::atomic<int> made{0};
    return "cvrig-" + std::to_string(made++) + "-" + std::to_string(::getpid());
}

bool ready(const child_program& part) {
    return part.out().find(": ready") != std::string::npos;
}

[[noreturn]] void give_up(const std::string& what, const std::string& said) {
    throw std::runtime_error("The live bench: " + what + "\n" + said);
}

/// Waits for "NAME: ready"; throws when the part ends before that.
void await_ready(child_program& part, const std::string& name) {
    const bool settled = becomes_true([&] { return ready(part) || !part.runs(); });
    if (!settled) give_up(name + " is not ready after 10 s.", part.all());
    if (!ready(part)) give_up(name + " ended at once.", part.all());
}

}  // namespace

live_bench::environment_value::environment_value(std::string name, const std::string& value)
    : name_{std::move(name)} {
    if (const char* old = std::getenv(name_.c_str())) {
        old_ = old;
        had_ = true;
    }
    ::setenv(name_.c_str(), value.c_str(), 1);
}

live_bench::environment_value::~environment_value() {
    if (had_) {
        ::setenv(name_.c_str(), old_.c_str(), 1);
    } else {
        ::unsetenv(name_.c_str());
    }
}

bool live_bench::is_possible() {
    return find_program("jackd", {}).has_value();
}

live_bench::live_bench(live_bench_settings settings)
    : settings_{std::move(settings)},
      server_name_{unused_server_name()},
      default_server_{"JACK_DEFAULT_SERVER", server_name_},
      no_reservation_{"JACK_NO_AUDIO_RESERVATION", "1"} {
    try {
        start_server();
        if (settings_.with_module) start_module();
    } catch (...) {
        end_server();
        throw;
    }
}

live_bench::~live_bench() {
    end_module();
    end_desk();
    end_server();
}

std::filesystem::path live_bench::next_log(const std::string& part) {
    return folder() / (part + "-" + std::to_string(logs_++));
}

std::vector<std::string> live_bench::server_command(const std::string& name) const {
    std::vector<std::string> words{settings_.server_program, "--no-realtime"};
    if (settings_.waits_for_clients) words.emplace_back("-S");
    const std::vector<std::string> rest{"-n", name,
                                        "-d", "dummy",
                                        "-r", std::to_string(settings_.rate_hertz),
                                        "-p", std::to_string(settings_.block_frames),
                                        "-C", "2",
                                        "-P", "2"};
    words.insert(words.end(), rest.begin(), rest.end());
    return words;
}

/// Only a client can tell that the server is there, so the interface tries until it is.
void live_bench::start_server() {
    bool freed = false;
    const auto start = [this] {
        jackd_ = std::make_unique<child_program>(server_command(server_name_), next_log("jackd"));
    };
    start();
    const bool came_up = becomes_true([&] {
        if (!jackd_->runs() && !freed) {
            freed = true;
            free_abandoned_slots();
            start();
        }
        return !jackd_->runs() || desk_came_up();
    });
    if (!jackd_->runs()) give_up("jackd ended at once.", jackd_->all());
    if (!came_up) give_up("desk-interface found no server.", jackd_->all() + desk_->all());
    await_ready(*desk_, "desk-interface");
}

bool live_bench::desk_came_up() {
    start_desk();
    const bool settled = becomes_true([&] { return ready(*desk_) || !desk_->runs(); });
    return settled && ready(*desk_);
}

void live_bench::start_desk() {
    std::vector<std::string> words{settings_.desk_program, "server=" + server_name_,
                                   "cables=" + settings_.cables, "back=" + settings_.back,
                                   "loop=" + settings_.loop};
    words.insert(words.end(), settings_.desk_arguments.begin(), settings_.desk_arguments.end());
    desk_.reset();
    desk_ = std::make_unique<child_program>(words, next_log("desk"));
}

void live_bench::start_module() {
    std::vector<std::string> words{settings_.module_program, "live", "server=" + server_name_,
                                   "state=" + flash().string()};
    words.push_back(settings_.console_over_tcp ? "console=tcp:0"
                                               : "console=pty:" + (folder() / "console").string());
    words.insert(words.end(), settings_.module_arguments.begin(), settings_.module_arguments.end());
    module_.reset();
    module_ = std::make_unique<child_program>(words, next_log("module"));
    await_ready(*module_, "ferrule live");
    await_cables();
}

void live_bench::await_cables() {
    if (!becomes_true([this] { return ask_desk("plugged") == "ok"; })) {
        give_up("the cables are not plugged after 10 s.", desk_->all() + module_->all());
    }
}

std::string live_bench::console() const {
    if (!settings_.console_over_tcp) return (folder() / "console").string();
    const std::string words = "console ";
    const auto said = module_->out();
    const auto at = said.find(words) + words.size();
    return said.substr(at, said.find('\n', at) - at);
}

std::string live_bench::ask_desk(const std::string& line) {
    const auto before = desk_->out().size();
    if (!desk_->write_line(line)) give_up("desk-interface reads no more.", desk_->all());
    std::string answer;
    const bool answered = becomes_true([&] {
        answer = desk_->out().substr(before);
        return answer.find('\n') != std::string::npos || !desk_->runs();
    });
    if (!answered || answer.empty()) give_up("no answer to \"" + line + "\".", desk_->all());
    return answer.substr(0, answer.find('\n'));
}

void live_bench::tell_desk(const std::string& line) {
    const auto answer = ask_desk(line);
    if (answer != "ok") give_up("\"" + line + "\" was answered:", answer);
}

void live_bench::restart_module(const std::vector<std::string>& arguments) {
    settings_.module_arguments = arguments;
    start_module();
}

void live_bench::restart_desk(const std::vector<std::string>& arguments) {
    settings_.desk_arguments = arguments;
    start_desk();
    await_ready(*desk_, "desk-interface");
    if (module_) await_cables();
}

/// A server that was killed leaves its place among the machine's eight taken for ever.
void live_bench::end_server() {
    if (!jackd_) return;
    const bool tidy = jackd_->end();
    jackd_.reset();
    if (!tidy) free_slot(server_name_);
}

/// A server of the same name takes a dead one's place, and leaves it free when it is asked to end.
void live_bench::free_slot(const std::string& name) {
    child_program again{server_command(name), next_log("again")};
    if (becomes_true([&] {
            return !again.runs() || again.all().find("self-connect") != std::string::npos;
        })) {
        again.ends_within(200ms);
    }
}

/// Those of earlier tests and demonstrations that were killed: the process that their name tells
/// is gone.
void live_bench::free_abandoned_slots() {
    const std::string begin = "jack_cvrig-";
    const std::string end = "_0_0";
    for (const auto& entry : std::filesystem::directory_iterator{"/dev/shm"}) {
        const auto file = entry.path().filename().string();
        if (!file.starts_with(begin) || !file.ends_with(end)) continue;
        const auto name = file.substr(5, file.size() - 5 - end.size());
        const int pid = std::atoi(name.substr(name.rfind('-') + 1).c_str());
        if (pid > 0 && ::kill(pid, 0) != 0) free_slot(name);
    }
}

}  // namespace cvrig::test_support
