#pragma once

#include <atomic>
#include <stop_token>
#include <thread>

namespace cvrig {

/// While it lives, SIGINT, SIGTERM and SIGHUP ask for a stop instead of ending the program, so that outputs
/// return to 0 V, programs are ended and half-written files are removed. A second SIGINT, as of a person who
/// does not want to wait, ends the program at once; SIGTERM and SIGHUP never do, however often they come.
class interrupts {
public:
    interrupts();
    ~interrupts();
    interrupts(const interrupts&) = delete;
    interrupts& operator=(const interrupts&) = delete;

    /// The same as a signal: the operator wants to stop.
    void request_stop() noexcept { source_.request_stop(); }

    [[nodiscard]] std::stop_token token() const { return source_.get_token(); }

    /// Asks for a stop as a signal would.
    void request() const { std::stop_source{source_}.request_stop(); }

private:
    std::stop_source source_;
    std::jthread waiting_;
};

}  // namespace cvrig
