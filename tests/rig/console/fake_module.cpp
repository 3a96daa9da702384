#include "tests/rig/console/fake_module.hpp"

#include <arpa/inet.h>
#include <fcntl.h>
#include <netinet/in.h>
#include <poll.h>
#include <sys/socket.h>
#include <termios.h>
#include <unistd.h>

#include <array>
#include <chrono>
#include <cstdlib>
#include <stdexcept>
#include <utility>

namespace cvrig::testing {

namespace {

using steady = std::chrono::steady_clock;

void demand(bool ok, const char* what) {
    if (!ok) throw std::runtime_error{what};
}

bool wait_for(int number, short event, int ms) {
    pollfd one{number, event, 0};
    return ::poll(&one, 1, ms) > 0;
}

struct terminal {
    descriptor master;
    std::string name;
};

terminal new_terminal() {
    terminal t;
    t.master = descriptor{::posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC)};
    demand(t.master.is_open(), "no pseudo-terminal");
    demand(::grantpt(t.master.number()) == 0 && ::unlockpt(t.master.number()) == 0, "unlocking");
    std::array<char, 100> name{};
    demand(::ptsname_r(t.master.number(), name.data(), name.size()) == 0, "a terminal's name");
    t.name = name.data();
    return t;
}

descriptor open_slave(const std::string& name, bool raw) {
    descriptor d{::open(name.c_str(), O_RDWR | O_NOCTTY | O_CLOEXEC)};
    demand(d.is_open(), "a terminal's other side");
    termios how{};
    ::tcgetattr(d.number(), &how);
    if (raw) ::cfmakeraw(&how);
    ::tcsetattr(d.number(), TCSANOW, &how);
    return d;
}

}  // namespace

talker::talker(descriptor wire, replier reply) : wire_{std::move(wire)}, reply_{std::move(reply)} {
    ::fcntl(wire_.number(), F_SETFL, O_NONBLOCK);
    thread_ = std::jthread{[this](const std::stop_token& over) { run(over); }};
}

talker::~talker() {
    thread_.request_stop();
    thread_.join();
}

void talker::say(std::string_view bytes) {
    const auto end = steady::now() + std::chrono::seconds{10};
    while (!bytes.empty() && steady::now() < end) {
        const auto n = ::send(wire_.number(), bytes.data(), bytes.size(), MSG_NOSIGNAL);
        const auto m =
            n < 0 && errno == ENOTSOCK ? ::write(wire_.number(), bytes.data(), bytes.size()) : n;
        if (m > 0) {
            bytes.remove_prefix(static_cast<std::size_t>(m));
        } else {
            wait_for(wire_.number(), POLLOUT, 20);
        }
    }
}

std::vector<std::string> talker::heard() const {
    const std::lock_guard lock{mutex_};
    return heard_;
}

void talker::run(const std::stop_token& over) {
    std::string held;
    while (!over.stop_requested()) {
        if (!reads_ || !wait_for(wire_.number(), POLLIN, 10)) {
            std::this_thread::sleep_for(std::chrono::milliseconds{1});
            continue;
        }
        std::array<char, 256> chunk{};
        const auto n = ::read(wire_.number(), chunk.data(), chunk.size());
        if (n <= 0) {
            std::this_thread::sleep_for(std::chrono::milliseconds{5});
            continue;
        }
        held.append(chunk.data(), static_cast<std::size_t>(n));
        for (auto end = held.find('\n'); end != std::string::npos; end = held.find('\n')) {
            const auto line = held.substr(0, end);
            held.erase(0, end + 1);
            {
                const std::lock_guard lock{mutex_};
                heard_.push_back(line);
            }
            if (reply_) say(reply_(line));
        }
    }
}

terminal_module::terminal_module(std::filesystem::path link, replier reply)
    : link_{std::move(link)}, reply_{std::move(reply)} {
    come_back();
}

terminal_module::~terminal_module() {
    go_away();
}

void terminal_module::go_away() {
    std::filesystem::remove(link_);
    talker_.reset();
    our_slave_.close();
}

void terminal_module::come_back() {
    auto t = new_terminal();
    if (t.name == name_) {
        spare_master_ = std::move(t.master);
        t = new_terminal();
    }
    our_slave_ = open_slave(t.name, true);
    name_ = t.name;
    talker_ = std::make_unique<talker>(std::move(t.master), reply_);
    std::filesystem::remove(link_);
    std::filesystem::create_symlink(name_, link_);
}

tcp_module::tcp_module(replier reply, std::string greeting)
    : reply_{std::move(reply)}, greeting_{std::move(greeting)} {
    listening_ = descriptor{::socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0)};
    sockaddr_in here{};
    here.sin_family = AF_INET;
    here.sin_addr.s_addr = ::htonl(INADDR_LOOPBACK);
    socklen_t size = sizeof here;
    auto* address = reinterpret_cast<sockaddr*>(&here);
    demand(::bind(listening_.number(), address, size) == 0, "binding a socket");
    demand(::listen(listening_.number(), 4) == 0, "listening");
    demand(::getsockname(listening_.number(), address, &size) == 0, "a socket's name");
    port_ = ::ntohs(here.sin_port);
    thread_ = std::jthread{[this](const std::stop_token& over) { run(over); }};
}

tcp_module::~tcp_module() {
    thread_.request_stop();
    thread_.join();
}

void tcp_module::run(const std::stop_token& over) {
    while (!over.stop_requested()) {
        if (!wait_for(listening_.number(), POLLIN, 10)) continue;
        descriptor call{::accept4(listening_.number(), nullptr, nullptr, SOCK_CLOEXEC)};
        if (!call.is_open()) continue;
        const std::lock_guard lock{mutex_};
        talker_ = std::make_unique<talker>(std::move(call), reply_);
        if (!greeting_.empty()) talker_->say(greeting_);
        ++calls_;
    }
}

void tcp_module::hang_up() {
    const std::lock_guard lock{mutex_};
    talker_.reset();
}

std::size_t tcp_module::calls() const {
    const std::lock_guard lock{mutex_};
    return calls_;
}

terminal_pair open_terminal_pair() {
    auto t = new_terminal();
    terminal_pair pair{std::move(t.master), open_slave(t.name, false)};
    ::fcntl(pair.person.number(), F_SETFL, O_NONBLOCK);
    return pair;
}

std::string read_until(const descriptor& from, std::string_view until) {
    const auto end = steady::now() + std::chrono::seconds{10};
    std::string text;
    while (!text.ends_with(until) && steady::now() < end) {
        if (!wait_for(from.number(), POLLIN, 20)) continue;
        std::array<char, 1024> chunk{};
        const auto n = ::read(from.number(), chunk.data(), chunk.size());
        if (n > 0) text.append(chunk.data(), static_cast<std::size_t>(n));
    }
    return text;
}

}  // namespace cvrig::testing
