#include "tests/support/jack_bench.hpp"

#include <fcntl.h>
#include <poll.h>
#include <sys/wait.h>
#include <unistd.h>

#include <chrono>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iterator>
#include <stdexcept>
#include <thread>

namespace cvrig::test {

namespace {

using namespace std::chrono_literals;
using steady = std::chrono::steady_clock;

/// Reads what is there; false at the end.
bool read_some(int from, std::string& to, std::chrono::milliseconds patience) {
    pollfd wanted{from, POLLIN, 0};
    if (::poll(&wanted, 1, static_cast<int>(patience.count())) <= 0) return true;
    char bytes[4096];
    const auto n = ::read(from, bytes, sizeof bytes);
    if (n <= 0) return false;
    to.append(bytes, static_cast<std::size_t>(n));
    return true;
}

}  // namespace

child::child(const std::vector<std::string>& argv) : process_{start_process(argv)} {
    if (process_.error != 0)
        throw std::runtime_error{argv.front() + ": " + why_not_started(process_.error)};
}

child::~child() {
    if (reaped_) return;
    ::kill(process_.pid, SIGCONT);
    ::kill(process_.pid, SIGTERM);
    if (wait_for_end(5s)) return;
    ::kill(process_.pid, SIGKILL);
    ::waitpid(process_.pid, nullptr, 0);
}

bool child::wait_for(const std::string& words) {
    const auto until = steady::now() + 10s;
    bool out = true;
    bool err = true;
    while (steady::now() < until && (out || err)) {
        if (said_.find(words) != std::string::npos) return true;
        if (out) out = read_some(process_.out.number(), said_, 10ms);
        if (err) err = read_some(process_.err.number(), said_, 10ms);
    }
    return said_.find(words) != std::string::npos;
}

void child::signal(int number) const {
    ::kill(process_.pid, number);
}

std::optional<int> child::wait_for_end(std::chrono::seconds patience) {
    const auto until = steady::now() + patience;
    int status = 0;
    while (steady::now() < until) {
        (void)read_some(process_.out.number(), said_, 1ms);
        (void)read_some(process_.err.number(), said_, 1ms);
        if (::waitpid(process_.pid, &status, WNOHANG) == process_.pid) {
            reaped_ = true;
            read_all();
            return WIFEXITED(status) ? WEXITSTATUS(status) : -WTERMSIG(status);
        }
        std::this_thread::sleep_for(2ms);
    }
    return std::nullopt;
}

void child::read_all() {
    for (const int from : {process_.out.number(), process_.err.number()}) {
        std::size_t before = said_.size() + 1;
        while (said_.size() != before) {
            before = said_.size();
            if (!read_some(from, said_, 0ms)) break;
        }
    }
}

jack_bench::jack_bench(const std::string& rate, bool waits)
    : name_{"cvrig-test-" + std::to_string(::getpid())}, rate_{rate}, waits_{waits} {
    ::setenv("JACK_DEFAULT_SERVER", name_.c_str(), 1);
    ::setenv("JACK_NO_START_SERVER", "1", 1);
    start_server();
    start_desk();
}

jack_bench::~jack_bench() {
    desk_.reset();
    if (!killed_) return;
    // A killed server keeps its place among the eight that a machine may have until one of its name
    // ends in good order.
    start_server();
    start_desk();
    desk_.reset();
}

void jack_bench::kill_server() {
    server_->signal(SIGKILL);
    killed_ = true;
}

void jack_bench::start_server() {
    killed_ = false;
    std::vector<std::string> argv{"/usr/bin/jackd", "--no-realtime", "-n", name_};
    if (waits_) argv.emplace_back("-S");
    for (const auto* word : {"-d", "dummy", "-C", "2", "-P", "2", "-p", "256", "-r"})
        argv.emplace_back(word);
    argv.push_back(rate_);
    server_.reset();
    server_.emplace(argv);
}

void jack_bench::start_desk() {
    // A server that has just been started refuses clients for a while.
    for (int tries = 0; tries < 200; ++tries) {
        desk_.reset();
        desk_.emplace(std::vector<std::string>{CVRIG_PASS_THROUGH, "desk", "8",
                                               (folder() / "heard.raw").string()});
        if (desk_->wait_for("ready")) return;
        std::this_thread::sleep_for(20ms);
    }
    throw std::runtime_error{"the desk does not start"};
}

std::vector<std::vector<float>> jack_bench::heard() {
    desk_->signal(SIGTERM);
    (void)desk_->wait_for_end();
    std::ifstream file{folder() / "heard.raw", std::ios::binary};
    const std::string bytes{std::istreambuf_iterator<char>{file}, {}};
    std::vector<std::vector<float>> out(2);
    for (std::size_t i = 0; i + 4 <= bytes.size(); i += 4) {
        float v = 0.0F;
        std::memcpy(&v, bytes.data() + i, 4);
        out[i / 4 % 2].push_back(v);
    }
    return out;
}

std::string jack_bench::bench_text(const std::string& more_of_link) {
    return "format: cvrig bench 1\n"
           "name: loop\n"
           "link: {audio: desk, api: jack, rate: 48 kHz, block: 256" +
           more_of_link +
           "}\n"
           "outputs: [{jack: a, limits: -5 V to 5 V}, {jack: b, limits: -5 V to 5 V}]\n"
           "inputs: [{jack: left}, {jack: right}]\n"
           "loop-back: {output: 3, input: 3, level: 1 V}\n";
}

bench jack_bench::read(const std::string& more_of_link) const {
    const auto file = folder() / "loop.bench.yaml";
    write_file_atomically(file, bench_text(more_of_link));
    return read_bench(file.string());
}

}  // namespace cvrig::test
