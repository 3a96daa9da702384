#include "rig/expectations/unit_table.hpp"

#include <array>

namespace cvrig {

namespace {

/// 0 dBV is 1 V rms, 0 dBu is sqrt(0.6) V rms: 10 lg (1 / 0.6) dB apart.
constexpr double dbu_of_one_volt = 2.2184874961635637;

constexpr std::array units{
    unit_entry{"", dimension::ratio, 1.0},
    unit_entry{"V", dimension::volts, 1.0},
    unit_entry{"mV", dimension::volts, 1e-3},
    unit_entry{"uV", dimension::volts, 1e-6},
    unit_entry{"µV", dimension::volts, 1e-6},
    unit_entry{"Hz", dimension::hertz, 1.0},
    unit_entry{"kHz", dimension::hertz, 1e3},
    unit_entry{"s", dimension::seconds, 1.0},
    unit_entry{"min", dimension::seconds, 60.0},
    unit_entry{"ms", dimension::seconds, 1e-3},
    unit_entry{"us", dimension::seconds, 1e-6},
    unit_entry{"µs", dimension::seconds, 1e-6},
    unit_entry{"cent", dimension::cents, 1.0},
    unit_entry{"cents", dimension::cents, 1.0},
    unit_entry{"ct", dimension::cents, 1.0},
    unit_entry{"semitone", dimension::cents, 100.0},
    unit_entry{"semitones", dimension::cents, 100.0},
    unit_entry{"octave", dimension::cents, 1200.0},
    unit_entry{"octaves", dimension::cents, 1200.0},
    unit_entry{"dB", dimension::decibels, 1.0},
    unit_entry{"dBu", dimension::dbu, 1.0},
    unit_entry{"dBV", dimension::dbu, 1.0, dbu_of_one_volt},
    // Binary prefixes as in IEC 80000-13:2008, clause 4. A kB is left out: it means 1000 bytes to
    // some and 1024 to others.
    unit_entry{"B", dimension::bytes, 1.0},
    unit_entry{"KiB", dimension::bytes, 1024.0},
    unit_entry{"MiB", dimension::bytes, 1048576.0},
    unit_entry{"%", dimension::percent, 1.0},
    unit_entry{"ppm", dimension::percent, 1e-4},
};

/// The Greek letter mu, which looks the same as the micro sign above.
constexpr std::string_view mu = "μ";
constexpr std::string_view micro = "µ";

}  // namespace

std::span<const unit_entry> known_units() noexcept {
    return units;
}

const unit_entry* find_unit(std::string_view name) noexcept {
    const bool greek = name.starts_with(mu);
    for (const auto& u : units) {
        if (u.name == name) return &u;
        if (greek && u.name.starts_with(micro) &&
            u.name.substr(micro.size()) == name.substr(mu.size())) {
            return &u;
        }
    }
    return nullptr;
}

}  // namespace cvrig
