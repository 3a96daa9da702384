#pragma once

#include <atomic>
#include <stop_token>
#include <thread>

namespace cvrig {

/// While it lives, SIGINT and SIGTERM ask for a stop instead of ending the program, so that outputs
/// return to 0 V, programs are ended and half-written files are removed. A second signal ends the
/// program at once.
class interrupts {
public:
    interrupts();
    ~interrupts();
    interrupts(const interrupts&) = delete;
    interrupts& operator=(const interrupts&) = delete;

    [[nodiscard]] std::stop_token token() const { return source_.get_token(); }

private:
    std::stop_source source_;
    std::jthread waiting_;
};

}  // namespace cvrig
