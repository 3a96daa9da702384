#include "rig/expectations/dimension.hpp"

namespace cvrig {

std::string_view base_unit(dimension d) noexcept {
    switch (d) {
        case dimension::volts:
            return "V";
        case dimension::hertz:
            return "Hz";
        case dimension::seconds:
            return "s";
        case dimension::cents:
            return "cent";
        case dimension::decibels:
            return "dB";
        case dimension::dbu:
            return "dBu";
        case dimension::percent:
            return "%";
        case dimension::bytes:
            return "B";
        case dimension::count:
        case dimension::ratio:
            return "";
    }
    return "";
}

std::string_view in_words(dimension d) noexcept {
    switch (d) {
        case dimension::volts:
            return "a voltage";
        case dimension::hertz:
            return "a frequency";
        case dimension::seconds:
            return "a time";
        case dimension::cents:
            return "an interval in cents";
        case dimension::decibels:
            return "a level difference in dB";
        case dimension::dbu:
            return "a level in dBu";
        case dimension::percent:
            return "a percentage";
        case dimension::bytes:
            return "a number of bytes";
        case dimension::count:
            return "a count";
        case dimension::ratio:
            return "a plain number";
    }
    return "";
}

}  // namespace cvrig
