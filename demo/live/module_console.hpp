#pragma once

#include "demo/live/console_commands.hpp"
#include "demo/platform/console_port.hpp"
#include "demo/platform/line_reader.hpp"

#include <chrono>
#include <memory>
#include <optional>

namespace ferrule {

/// The console of a live module: lines in, answers out, and everything that happens to it by and
/// by.
class module_console {
public:
    /// `faults` hold from every start of the firmware on.
    module_console(std::unique_ptr<console_port> port, bass_module& module,
                   const misbehaviour& faults, const absence& flash);

    /// Does what has become due. To be called again and again, at least every few milliseconds.
    void turn();

    /// What to wait on for arriving bytes; negative for nothing.
    [[nodiscard]] int number() const noexcept { return port_->number(); }
    /// There is more to write than the other end has taken so far.
    [[nodiscard]] bool is_busy() const noexcept { return wishes_.faults.babbles; }

private:
    using clock = std::chrono::steady_clock;

    void obey(const std::string& line);
    void say(const std::string& line);
    void babble();
    void follow_faults();
    void boot();
    void leave(const absence& how);

    std::unique_ptr<console_port> port_;
    bass_module& module_;
    misbehaviour faults_;
    console_wishes wishes_;
    instrument instrument_;
    line_cutter lines_;
    std::optional<clock::time_point> back_at_;
    std::string back_name_;
    bool boots_when_back_ = false;
    unsigned babbled_ = 0;
};

}  // namespace ferrule
