#include "demo/live/live_arguments.hpp"

#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {
namespace {

constexpr double most_seconds = 1e6;

absence& gone(live_arguments& into) {
    if (!into.faults.gone) into.faults.gone = absence{};
    return *into.faults.gone;
}

bool read_connection(live_arguments& into, const std::string& name, const std::string& value) {
    if (name == "server") {
        into.server = value;
    } else if (name == "client") {
        into.client = value;
    } else if (name == "console") {
        into.console = value;
    } else if (name == "serial") {
        into.console = "serial:" + value;
    } else {
        return false;
    }
    return true;
}

bool read_alsa(live_arguments& into, const std::string& name, const std::string& value) {
    if (name == "alsa") {
        into.alsa = value;
    } else if (name == "full-scale") {
        into.full_scale_volts = number_of(name, value, 0.1, 100.0);
    } else if (name == "rate") {
        into.rate_hertz = static_cast<unsigned>(number_of(name, value, 8000.0, 192000.0));
    } else if (name == "block") {
        into.block_frames = static_cast<unsigned>(number_of(name, value, 16.0, 8192.0));
    } else if (name == "blocks") {
        into.blocks = static_cast<unsigned>(number_of(name, value, 2.0, 64.0));
    } else if (name == "channels") {
        into.channels = split_at_commas(value);
    } else if (name == "output-channels") {
        into.output_channels = static_cast<std::size_t>(number_of(name, value, 2.0, 32.0));
    } else if (name == "loop") {
        into.loop = value;
    } else {
        return false;
    }
    return true;
}

bool read_console_fault(live_arguments& into, const std::string& name, const std::string& value) {
    if (name == "flash-seconds") {
        into.flash.away_seconds = number_of(name, value, 0.0, most_seconds);
    } else if (name == "flash-name") {
        into.flash.new_name = value;
    } else if (name == "babble") {
        into.faults.babbles = number_of(name, value, 0.0, 1.0) != 0.0;
    } else if (name == "mute-after") {
        into.faults.mute_after = static_cast<int>(number_of(name, value, 0.0, most_seconds));
    } else if (name == "reset-after") {
        into.faults.reset_after_seconds = number_of(name, value, 0.0, most_seconds);
    } else if (name == "gone-after") {
        gone(into).after_seconds = number_of(name, value, 0.0, most_seconds);
    } else if (name == "gone-seconds") {
        gone(into).away_seconds = number_of(name, value, 0.0, most_seconds);
    } else if (name == "gone-name") {
        gone(into).new_name = value;
    } else {
        return false;
    }
    return true;
}

}  // namespace

live_arguments read_live_arguments(std::span<const std::string> words) {
    live_arguments asked;
    for (const auto& word : words) {
        const auto [name, value] = split_at_equals(word);
        if (!read_connection(asked, name, value) && !read_alsa(asked, name, value) &&
            !read_console_fault(asked, name, value)) {
            asked.module.push_back(word);
        }
    }
    return asked;
}

}  // namespace ferrule
