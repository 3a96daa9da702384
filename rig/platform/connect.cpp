#include <fcntl.h>
#include <netdb.h>
#include <netinet/in.h>
#include <netinet/tcp.h>
#include <poll.h>
#include <sys/socket.h>

#include <algorithm>
#include <cerrno>
#include <future>
#include <memory>
#include <system_error>
#include <thread>

#include "rig/platform/byte_stream.hpp"

namespace cvrig {

namespace {

using std::chrono::milliseconds;
using steady = std::chrono::steady_clock;

struct free_addresses {
    void operator()(addrinfo* all) const noexcept {
        if (all != nullptr) ::freeaddrinfo(all);
    }
};
using addresses = std::unique_ptr<addrinfo, free_addresses>;

struct looked_up {
    addresses all;
    std::string problem;
};

looked_up look_up(const std::string& host, unsigned short port) {
    addrinfo want{};
    want.ai_family = AF_UNSPEC;
    want.ai_socktype = SOCK_STREAM;
    addrinfo* found = nullptr;
    const int error = ::getaddrinfo(host.c_str(), std::to_string(port).c_str(), &want, &found);
    if (error != 0) return {nullptr, ::gai_strerror(error)};
    return {addresses{found}, {}};
}

/// A name server that does not answer can hold a look-up for half a minute, so it is left behind.
looked_up look_up_within(const std::string& host, unsigned short port, milliseconds wait) {
    std::promise<looked_up> promise;
    auto answer = promise.get_future();
    std::thread{[host, port](std::promise<looked_up> told) { told.set_value(look_up(host, port)); },
                std::move(promise)}
        .detach();
    if (answer.wait_for(wait) == std::future_status::ready) return answer.get();
    return {nullptr, "its name could not be looked up in time"};
}

/// 0 if the connection is made, else an errno.
int finish_connecting(const descriptor& d, milliseconds wait) {
    pollfd one{d.number(), POLLOUT, 0};
    if (::poll(&one, 1, static_cast<int>(std::max<long long>(wait.count(), 0))) <= 0)
        return ETIMEDOUT;
    int error = 0;
    socklen_t size = sizeof error;
    return ::getsockopt(d.number(), SOL_SOCKET, SO_ERROR, &error, &size) == 0 ? error : errno;
}

/// A small buffer on this side, so that a module that babbles is held back and its replies are not
/// queued behind megabytes.
void set_up(const descriptor& d) {
    const int bytes = 16384;
    const int yes = 1;
    ::setsockopt(d.number(), SOL_SOCKET, SO_RCVBUF, &bytes, sizeof bytes);
    ::setsockopt(d.number(), IPPROTO_TCP, TCP_NODELAY, &yes, sizeof yes);
    ::setsockopt(d.number(), SOL_SOCKET, SO_KEEPALIVE, &yes, sizeof yes);
}

}  // namespace

opened_stream connect_to(const std::string& host, unsigned short port, milliseconds wait) {
    const auto end = steady::now() + wait;
    const auto found = look_up_within(host, port, wait);
    std::string problem = found.problem;
    for (const addrinfo* a = found.all.get(); a != nullptr; a = a->ai_next) {
        descriptor d{::socket(a->ai_family, a->ai_socktype, a->ai_protocol)};
        if (!d.is_open()) continue;
        ::fcntl(d.number(), F_SETFD, FD_CLOEXEC);
        ::fcntl(d.number(), F_SETFL, O_NONBLOCK);
        set_up(d);
        int error = ::connect(d.number(), a->ai_addr, a->ai_addrlen) == 0 ? 0 : errno;
        if (error == EINPROGRESS)
            error =
                finish_connecting(d, std::chrono::duration_cast<milliseconds>(end - steady::now()));
        if (error == 0) return {byte_stream{std::move(d)}, {}};
        problem = error == ECONNREFUSED ? "nobody listens there; start the module's program first"
                                        : std::generic_category().message(error);
    }
    return {{}, problem.empty() ? "it has no address" : problem};
}

}  // namespace cvrig
