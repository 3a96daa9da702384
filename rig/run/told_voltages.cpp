#include "rig/run/told_voltages.hpp"

#include <fmt/format.h>

#include "rig/console/drain_errors.hpp"
#include "rig/console/filled_line.hpp"
#include "rig/run/held_levels.hpp"

namespace cvrig {

std::string told_voltages::hold(const std::map<std::string, volts>& at) {
    const auto levels = held_levels(bench_, module_, at);
    drain_errors(console_, module_.console);
    for (std::size_t i = 0; i < levels.size(); ++i) {
        const auto& jack = bench_.outputs[i].jack;
        if (module_.find_jack(jack) == nullptr) continue;
        const auto line =
            filled_line(bench_.program.hold,
                        {{"jack", jack}, {"volts", fmt::format("{:.9g}", levels[i].value())}});
        const auto sent = console_.ask({line, std::nullopt, bench_.program.where});
        if (!sent.ok) return sent.problem;
    }
    if (!module_.console || !module_.console->no_error) return {};
    const auto fine = console_.ask(*module_.console->no_error);
    if (fine.ok) return {};
    return fmt::format("The module's program does not take the voltages that 'hold' tells it: {}",
                       fine.problem);
}

}  // namespace cvrig
