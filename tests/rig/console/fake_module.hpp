#pragma once

#include <atomic>
#include <filesystem>
#include <functional>
#include <memory>
#include <mutex>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

#include "rig/platform/descriptor.hpp"

namespace cvrig::testing {

/// What a module says to a line; what it returns is sent as it is.
using replier = std::function<std::string(const std::string&)>;

/// One end of a wire, on which somebody answers lines.
class talker {
public:
    talker(descriptor wire, replier reply);
    ~talker();
    talker(const talker&) = delete;
    talker& operator=(const talker&) = delete;

    /// Sends bytes, however long the other side takes (but gives up after a while).
    void say(std::string_view bytes);
    /// From now on nothing is read any more.
    void stop_reading() { reads_ = false; }
    /// Lines that have come so far.
    [[nodiscard]] std::vector<std::string> heard() const;

private:
    void run(const std::stop_token& over);

    descriptor wire_;
    replier reply_;
    std::atomic<bool> reads_{true};
    mutable std::mutex mutex_;
    std::vector<std::string> heard_;
    std::jthread thread_;
};

/// A module on a pseudo-terminal, to whose present name a link leads.
class terminal_module {
public:
    terminal_module(std::filesystem::path link, replier reply);
    ~terminal_module();
    terminal_module(const terminal_module&) = delete;
    terminal_module& operator=(const terminal_module&) = delete;

    [[nodiscard]] talker& wire() { return *talker_; }
    void go_away();
    /// Always under another name than before.
    void come_back();
    [[nodiscard]] const std::string& name() const noexcept { return name_; }

private:
    std::filesystem::path link_;
    replier reply_;
    std::string name_;
    descriptor our_slave_;  ///< keeps the wire up while nobody else has opened it
    std::unique_ptr<talker> talker_;
    descriptor spare_master_;  ///< keeps the old name taken
};

/// A module that listens on a TCP port of this machine.
class tcp_module {
public:
    explicit tcp_module(replier reply, std::string greeting = {});
    ~tcp_module();
    tcp_module(const tcp_module&) = delete;
    tcp_module& operator=(const tcp_module&) = delete;

    [[nodiscard]] unsigned short port() const noexcept { return port_; }
    /// Hangs up on whoever is connected; who connects again is welcome.
    void hang_up();
    [[nodiscard]] std::size_t calls() const;

private:
    void run(const std::stop_token& over);

    descriptor listening_;
    unsigned short port_{0};
    replier reply_;
    std::string greeting_;
    mutable std::mutex mutex_;
    std::unique_ptr<talker> talker_;
    std::size_t calls_{0};
    std::jthread thread_;
};

/// A person at a terminal: the rig has the slave's side.
struct terminal_pair {
    descriptor person;
    descriptor rig;
};
[[nodiscard]] terminal_pair open_terminal_pair();

/// What has come within the time, until it ends in `until`.
[[nodiscard]] std::string read_until(const descriptor& from, std::string_view until);

}  // namespace cvrig::testing
