#include "demo/live/module_console.hpp"

#include <iostream>

namespace ferrule {
namespace {

constexpr std::size_t babble_ahead_bytes = 4096;

/// Times that count from now on.
misbehaviour beginning(misbehaviour faults, double now_seconds) {
    if (faults.reset_after_seconds) *faults.reset_after_seconds += now_seconds;
    if (faults.gone) faults.gone->after_seconds += now_seconds;
    return faults;
}

}  // namespace

module_console::module_console(std::unique_ptr<console_port> port, bass_module& module,
                               const misbehaviour& faults, const absence& flash)
    : port_{std::move(port)},
      module_{module},
      faults_{faults},
      wishes_{false, std::nullopt, beginning(faults, module.seconds())},
      instrument_{console_commands(module, wishes_, flash)} {
    say(module_.banner());
}

void module_console::say(const std::string& line) {
    port_->write(line + "\n");
}

void module_console::obey(const std::string& line) {
    const auto answer = instrument_.obey(line);
    auto& left = wishes_.faults.mute_after;
    const bool is_mute = left && *left == 0;
    if (left && *left > 0) --*left;
    if (!answer.empty() && !is_mute) say(answer);
}

void module_console::babble() {
    while (port_->waiting_bytes() < babble_ahead_bytes) {
        say("dbg: loop " + std::to_string(babbled_++) + " cv=0x7ff3 gate=0 env=0.0000");
        if (port_->waiting_bytes() == 0 && babbled_ % 1024 == 0) return;
    }
}

/// The firmware starts: the console forgets what it was told, and says that it is there.
void module_console::boot() {
    try {
        module_.reboot();
    } catch (const command_error& error) {
        std::cerr << "The module does not start again: " << error.what() << ".\n";
    }
    instrument_.power_on();
    lines_ = {};
    wishes_ = {false, std::nullopt, beginning(faults_, module_.seconds())};
    say(module_.banner());
}

void module_console::leave(const absence& how) {
    port_->vanish();
    lines_ = {};
    back_name_ = how.new_name;
    back_at_ = clock::now() + std::chrono::duration_cast<clock::duration>(
                                  std::chrono::duration<double>{how.away_seconds});
}

void module_console::follow_faults() {
    auto& faults = wishes_.faults;
    if (faults.gone && module_.seconds() >= faults.gone->after_seconds) {
        const absence how = *faults.gone;
        faults.gone.reset();
        leave(how);
    }
    if (faults.reset_after_seconds && module_.seconds() >= *faults.reset_after_seconds) boot();
    if (faults.babbles) babble();
}

void module_console::turn() {
    if (back_at_) {
        if (clock::now() < *back_at_) return;
        back_at_.reset();
        port_->appear(back_name_);
        if (std::exchange(boots_when_back_, false)) boot();
    }
    lines_.add(port_->read());
    while (const auto line = lines_.next()) obey(*line);
    if (std::exchange(wishes_.reboot, false)) boot();
    if (const auto flash = std::exchange(wishes_.flash, std::nullopt)) {
        boots_when_back_ = true;
        module_.fall_silent();
        leave(*flash);
        return;
    }
    follow_faults();
}

}  // namespace ferrule
