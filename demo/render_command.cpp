#include "demo/arguments.hpp"
#include "demo/commands.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {

int render_command(std::span<const std::string> words) {
    if (words.size() < 2) {
        throw user_mistake("render needs a stimulus file and the name of a response file.");
    }
    const auto asked = parse_arguments(words.subspan(2));
    const auto stimulus = read_sound(words[0]);
    if (static_cast<std::size_t>(stimulus.channels) > asked.wires.jacks.size()) {
        throw user_mistake("The stimulus has " + std::to_string(stimulus.channels) +
                           " channels, but jacks= names only " +
                           std::to_string(asked.wires.jacks.size()) + "; name a jack for each.");
    }
    const auto plan = plan_of(asked, static_cast<double>(stimulus.rate_hertz));
    write_sound(words[1], render(stimulus, plan, asked.wires));
    return 0;
}

}  // namespace ferrule
