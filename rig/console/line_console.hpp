#pragma once

#include <chrono>
#include <functional>
#include <memory>
#include <mutex>
#include <stop_token>
#include <string>
#include <thread>

#include "rig/console/console.hpp"
#include "rig/console/conversation.hpp"
#include "rig/console/line_assembler.hpp"
#include "rig/console/port.hpp"

namespace cvrig {

/// A console of lines on a port that may come and go.
class line_console : public console {
public:
    /// Opens the port, and opens it again whenever it is lost.
    using opener = std::function<opened_port()>;

    /// Throws user_error if it does not open at first.
    line_console(console_settings how, console_rules rules, std::stop_token stop, opener open);
    ~line_console() override;
    line_console(const line_console&) = delete;
    line_console& operator=(const line_console&) = delete;

    console_reply ask(const dialogue_line& line) override;
    void mark() override { talk_.mark(); }
    [[nodiscard]] console_record record() override { return talk_.record(); }
    console_record cut() override { return talk_.cut(); }
    [[nodiscard]] std::size_t restarts() const override { return talk_.restarts(); }
    void expect_reset() override { talk_.expect_reset(); }
    [[nodiscard]] std::string description() const override { return port_in_words(how_); }

private:
    using clock = conversation::clock;
    using shared_port = std::shared_ptr<port>;

    void listen(const std::stop_token& over);
    void take_in(port& from, const std::stop_token& over);
    void lose_port();
    void look_for_port(const std::stop_token& over);
    [[nodiscard]] shared_port current_port() const;
    [[nodiscard]] bool has_broken_line() const;
    [[nodiscard]] shared_port await_port(const std::stop_token& stop) const;
    void await_loss_of(const shared_port& gone, const std::stop_token& stop) const;
    struct sending {
        std::string problem;         ///< one sentence if it did not work
        bool waited_in_vain{false};  ///< the port was gone, and stayed away for the return time
    };
    [[nodiscard]] sending send(const std::string& line);
    [[nodiscard]] std::string why_not(const dialogue_line& line,
                                      const conversation::outcome& what) const;

    console_settings how_;
    console_rules rules_;
    std::stop_token stop_;
    opener open_;
    conversation talk_;
    mutable std::mutex port_mutex_;
    shared_port port_;
    bool broken_line_{false};  ///< a part of a line was sent last
    // Of the reading thread alone.
    line_assembler lines_;
    clock::time_point last_heard_;
    bool told_unfinished_{false};
    clock::time_point lost_at_;
    bool told_missing_{false};
    std::jthread reader_;
};

}  // namespace cvrig
