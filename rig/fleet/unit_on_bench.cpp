#include "rig/fleet/unit_on_bench.hpp"

#include <fmt/format.h>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/fleet/tracking_record.hpp"

namespace cvrig {

std::string told_serial_number(console& talks, const console_rules& rules,
                               const std::string& typed) {
    if (!rules.serial_number) return {};
    const auto reply = talks.ask(*rules.serial_number);
    if (!reply.ok || reply.captures.empty()) return {};
    const auto serial = squeezed(reply.captures.front());
    if (!serial.empty() && !typed.empty() && !is_same_unit(serial, typed))
        throw user_error{fmt::format(
            "The module on the bench says that its serial number is {}, but --unit says "
            "{}; put the right module on the bench, or correct --unit.",
            cvrig::quoted(serial), cvrig::quoted(typed))};
    return serial;
}

}  // namespace cvrig
