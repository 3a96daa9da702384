#pragma once

#include "demo/arguments.hpp"
#include "demo/calibration_mode.hpp"
#include "demo/flash.hpp"
#include "demo/live/sounding.hpp"

#include <span>
#include <string>
#include <vector>

namespace ferrule {

/// The half of a live module that is not sound: what it keeps, and what it is told.
///
/// Every change is in the flash, and in the sound, when the call returns. A call throws
/// command_error when the sound does not take it.
class bass_module {
public:
    static constexpr double boot_seconds = 0.3;

    bass_module(std::vector<std::string> words, const arguments& asked, sounding& sound);

    [[nodiscard]] const settings& set() const noexcept { return kept_.set; }
    void change(const settings& to);
    [[nodiscard]] ferrule::route route() const noexcept { return route_; }
    void change(ferrule::route to);

    [[nodiscard]] const calibration& stored() const noexcept { return kept_.stored; }
    /// The mean code of the pitch jack from now on.
    [[nodiscard]] double measure_pitch_code();
    /// Constants from now on, and in the flash unless the build forgets them.
    void use(const calibration& constants);
    void mute(bool on);
    [[nodiscard]] calibration_mode& calibrating() noexcept { return calibrating_; }
    [[nodiscard]] const calibration_habits& habits() const noexcept {
        return asked_.image.calibration;
    }
    /// Switches and knobs as in a new module; the constants stay, unless the build wipes them.
    void reset_settings();

    /// Adds a fault to the firmware, or removes all that were added; the voice begins anew.
    void add_fault_now(const std::string& text);
    void clear_faults_now();

    /// Reads flash and image again and begins anew, after the silence of a boot.
    void reboot();
    /// Nothing sounds until the next reboot: the boot loader is at work.
    void fall_silent();
    void stall(double seconds);

    [[nodiscard]] std::string identity() const { return identity_of(asked_); }
    [[nodiscard]] std::string banner() const;
    [[nodiscard]] double load_percent() const noexcept { return sound_.load_percent(); }
    [[nodiscard]] double seconds() const noexcept { return sound_.seconds(); }
    /// Bytes of the processor's memory that the firmware leaves free.
    [[nodiscard]] static std::size_t free_bytes() noexcept;

private:
    void keep();
    [[nodiscard]] live_order order() const;
    void tell(const live_order& what);
    void begin_anew(double silent_seconds);

    std::vector<std::string> words_;  ///< that hold for every start: files, unit, faults
    arguments asked_;
    flash kept_;
    ferrule::route route_ = ferrule::route::both;
    calibration in_flash_;  ///< what the next start finds
    calibration_mode calibrating_;
    bool muted_ = false;
    sounding& sound_;
};

}  // namespace ferrule
