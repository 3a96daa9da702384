#pragma once

#include <sys/types.h>

#include <chrono>
#include <filesystem>
#include <string>
#include <thread>
#include <vector>

#include "rig/platform/descriptor.hpp"

namespace cvrig::test_support {

/// A program that runs beside a test and never outlives it: it is ended with this object, and the
/// system ends it when the test itself is killed.
class child_program {
public:
    /// Its stdout goes to `log`.out, its stderr to `log`.err. Throws std::runtime_error if it
    /// cannot be started.
    child_program(const std::vector<std::string>& argv, std::filesystem::path log);
    child_program(const child_program&) = delete;
    child_program& operator=(const child_program&) = delete;
    ~child_program();

    [[nodiscard]] pid_t pid() const noexcept { return pid_; }
    [[nodiscard]] bool runs();
    void send(int signal);
    /// To its stdin. False when it reads no more.
    bool write_line(const std::string& line);
    /// Everything that it has said so far.
    [[nodiscard]] std::string out() const;
    [[nodiscard]] std::string all() const;

    /// Asks it to end, and kills it when it does not. True if asking was enough.
    bool end();
    /// True once it has ended by itself.
    bool ends_within(std::chrono::milliseconds wait);
    /// How it ended: its status, or minus the signal that killed it. Only after its end.
    [[nodiscard]] int status() const noexcept { return status_; }

private:
    pid_t pid_{-1};
    bool ended_{false};
    int status_{0};
    std::filesystem::path log_;
    descriptor input_;
};

/// Whether `ready` becomes true within 10 s, the patience of everything here but of whole runs.
template <typename Ready>
bool becomes_true(const Ready& ready, std::chrono::seconds patience = std::chrono::seconds{10}) {
    using namespace std::chrono_literals;
    const auto limit = std::chrono::steady_clock::now() + patience;
    for (;;) {
        if (ready()) return true;
        if (std::chrono::steady_clock::now() > limit) return false;
        std::this_thread::sleep_for(5ms);
    }
}

}  // namespace cvrig::test_support
