#pragma once

#include <functional>

namespace cvrig {

/// While it lives, an uncaught exception does something first and then ends the program as before.
///
/// Several last acts run in the reverse order of their making. The act must not throw, and must be
/// short: what called std::terminate may hold any lock.
/// What it cannot do: SIGKILL and a power cut end the program without a word to it, so nothing runs.
/// Then the driver or the server sees the client vanish, and outputs stop at once at whatever the
/// interface makes of no data: silence for most, the last level for some.
class last_act {
public:
    explicit last_act(std::function<void()> act);
    ~last_act();
    last_act(const last_act&) = delete;
    last_act& operator=(const last_act&) = delete;

private:
    static void run_all() noexcept;

    std::function<void()> act_;
    last_act* before_;
};

}  // namespace cvrig
