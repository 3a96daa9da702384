#include "demo/live/bass_module.hpp"

#include "demo/console/instrument.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <algorithm>
#include <iostream>

namespace ferrule {
namespace {

bool is_setting(const std::string& word) {
    settings scratch;
    const auto [name, value] = split_at_equals(word);
    return read_setting(scratch, name, value);
}

}  // namespace

bass_module::bass_module(std::vector<std::string> words, const arguments& asked, sounding& sound)
    : words_{std::move(words)},
      asked_{asked},
      kept_{asked.stored, asked.set},
      in_flash_{asked.stored},
      sound_{sound} {
    // Settings hold for the first start only: from then on the flash knows them.
    words_.erase(std::remove_if(words_.begin(), words_.end(), is_setting), words_.end());
    keep();
}

void bass_module::keep() {
    if (!asked_.state.empty()) write_flash(asked_.state, {in_flash_, kept_.set});
}

live_order bass_module::order() const {
    live_order now;
    now.set = kept_.set;
    now.stored = kept_.stored;
    now.route = route_;
    now.muted = muted_;
    return now;
}

void bass_module::tell(const live_order& what) {
    if (!sound_.give(what)) throw command_error(scpi::system_error, "the audio stands still");
}

void bass_module::change(const settings& to) {
    kept_.set = to;
    keep();
    tell(order());
}

void bass_module::change(ferrule::route to) {
    route_ = to;
    tell(order());
}

double bass_module::measure_pitch_code() {
    const auto code = sound_.measure_pitch_code(order());
    if (!code) throw command_error(scpi::system_error, "the audio stands still");
    return *code;
}

void bass_module::use(const calibration& constants) {
    kept_.stored = constants;
    if (!habits().forgets) in_flash_ = constants;
    keep();
    tell(order());
}

void bass_module::mute(bool on) {
    muted_ = on;
    tell(order());
}

void bass_module::reset_settings() {
    change(settings{});
    change(route::both);
    if (habits().reset_wipes) use(factory_calibration());
}

void bass_module::begin_anew(double silent_seconds) {
    asked_.set = kept_.set;
    asked_.stored = kept_.stored;
    if (!sound_.start_again(plan_of(asked_, sound_.rate_hertz()), order(), silent_seconds)) {
        throw command_error(scpi::system_error, "the audio stands still");
    }
}

void bass_module::add_fault_now(const std::string& text) {
    try {
        add_fault(asked_.image.faults, text);
    } catch (const user_mistake& mistake) {
        throw command_error(scpi::illegal_parameter_value, mistake.what());
    }
    begin_anew(0.0);
}

void bass_module::clear_faults_now() {
    asked_.image.faults = parse_arguments(words_).image.faults;
    begin_anew(0.0);
}

void bass_module::fall_silent() {
    constexpr double for_good_seconds = 1e6;
    begin_anew(for_good_seconds);
}

void bass_module::reboot() {
    try {
        asked_ = parse_arguments(words_);
        if (!asked_.state.empty()) {
            kept_ = {asked_.stored, asked_.set};
            in_flash_ = asked_.stored;
        }
        kept_.stored = in_flash_;
    } catch (const user_mistake& mistake) {
        std::cerr << mistake.what() << " The firmware goes on as it was.\n";
    }
    calibrating_.abandon();
    muted_ = false;
    route_ = ferrule::route::both;
    begin_anew(boot_seconds);
}

void bass_module::stall(double seconds) {
    auto now = order();
    now.stall_seconds = seconds;
    tell(now);
}

std::string bass_module::banner() const {
    return "Ferrule " + asked_.image.version + " ready";
}

std::size_t bass_module::free_bytes() noexcept {
    // The processor has 128 KiB, and its numbers take half the room of this machine's.
    constexpr std::size_t memory_bytes = std::size_t{128} * 1024;
    constexpr std::size_t delay_bytes = std::size_t{8192} * sizeof(float);
    return memory_bytes - delay_bytes - sizeof(module_under_test) / 2;
}

}  // namespace ferrule
