#include "demo/arguments.hpp"
#include "demo/commands.hpp"
#include "demo/flash.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {

int calibrate_command(std::span<const std::string> words) {
    const auto asked = parse_arguments(words);
    if (asked.state.empty()) {
        throw user_mistake("calibrate needs state=PATH, the file to keep the constants in.");
    }
    auto kept = read_flash(asked.state);
    kept.stored = calibrate(make_specimen(asked.unit), asked.seed);
    write_flash(asked.state, kept);
    return 0;
}

}  // namespace ferrule
