#include "rig/run/held_levels.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/wording.hpp"
#include "rig/stimulus/jack_levels.hpp"

namespace cvrig {

std::vector<volts> held_levels(const bench& b, const module_expectations& m,
                               const std::map<std::string, volts>& at) {
    for (const auto& [jack, v] : at)
        if (std::ranges::find(b.outputs, jack, &bench_output::jack) == b.outputs.end())
            throw user_error{
                fmt::format("No output of bench {} feeds jack {}, which has to hold {}.",
                            quoted(b.name), quoted(jack), show(v.value(), dimension::volts))};
    std::vector<volts> all;
    for (const auto& level : levels_of(m, b)) {
        const auto asked = at.find(level.output().jack);
        const volts v = asked == at.end() ? level.rest() : asked->second;
        if (asked != at.end() && !level.allows(v))
            throw user_error{
                {{level.output().where,
                  fmt::format("Jack {} has to hold {}, but this output is limited to {} "
                              "to {}; nothing was played.",
                              quoted(asked->first), show(v.value(), dimension::volts),
                              show(level.output().lowest.value(), dimension::volts),
                              show(level.output().highest.value(), dimension::volts))}}};
        all.push_back(v);
    }
    return all;
}

}  // namespace cvrig
