#pragma once

#include "demo/platform/descriptor.hpp"

#include <chrono>

namespace ferrule {

/// While it lives, SIGINT and SIGTERM are noticed instead of ending the program, and a broken pipe
/// is only a failed write. Make it before any other thread starts.
class stop_signals {
public:
    stop_signals();

    /// True once one of the signals has come.
    [[nodiscard]] bool came() noexcept;

    /// Waits until a signal, or something to read on `other` (unless it is negative), or so long.
    void wait(int other, std::chrono::milliseconds at_most) const noexcept;

private:
    descriptor signals_;
    bool came_ = false;
};

/// Stops this process as a debugger would, until so much later, or until someone continues it when
/// `seconds` is 0.
void stop_self(double seconds);

}  // namespace ferrule
