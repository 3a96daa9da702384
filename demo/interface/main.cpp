#include "demo/interface/desk_control.hpp"
#include "demo/platform/line_reader.hpp"
#include "demo/platform/stop_signals.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <chrono>
#include <exception>
#include <iostream>
#include <string>
#include <vector>

namespace {

using namespace ferrule;

struct desk_arguments {
    std::string server;
    std::string client = "desk";
    std::string module = "ferrule";
    double full_scale_volts = 10.0;
    desk_faults faults;
    std::string cables = "none";
    std::string back = "none";
    std::string loop = "none";
};

desk_arguments read_arguments(const std::vector<std::string>& words) {
    desk_arguments asked;
    for (const auto& word : words) {
        const auto [name, value] = split_at_equals(word);
        if (name == "server") {
            asked.server = value;
        } else if (name == "client") {
            asked.client = value;
        } else if (name == "module") {
            asked.module = value;
        } else if (name == "full-scale") {
            asked.full_scale_volts = number_of(name, value, 0.1, 100.0);
        } else if (name == "fault") {
            add_desk_fault(asked.faults, value);
        } else if (name == "cables") {
            asked.cables = value;
        } else if (name == "back") {
            asked.back = value;
        } else if (name == "loop") {
            asked.loop = value;
        } else {
            throw user_mistake("There is no argument \"" + name +
                               "\"; those of the interface are server, client, module, full-scale, "
                               "fault, cables, back and loop.");
        }
    }
    return asked;
}

void list_faults() {
    for (const auto& known : all_desk_faults()) {
        std::cout << known.name << " (" << known.unit << ", such as " << known.typical
                  << "): " << known.meaning << '\n';
    }
}

/// Until a signal asks for the end, or the server ends: status 1.
int serve(jack_client& jack, desk_control& control, patch_bay& bay, stop_signals& stop) {
    using namespace std::chrono_literals;
    constexpr int standard_input = 0;
    line_reader lines{standard_input};
    while (!stop.came()) {
        if (jack.is_alone()) {
            std::cerr << "The JACK server has ended, and the interface with it.\n";
            return 1;
        }
        while (const auto line = lines.next()) std::cout << control.obey(*line) << std::endl;
        bay.mend();
        stop.wait(lines.number(), 20ms);
    }
    return 0;
}

int run(const std::vector<std::string>& words) {
    if (words.size() == 1 && words.front() == "faults") {
        list_faults();
        return 0;
    }
    const auto asked = read_arguments(words);
    stop_signals stop;
    jack_client jack{desk_face(asked.server, asked.client)};
    desk interface { asked.full_scale_volts, jack.rate_hertz() };
    const running<jack_client> runs{jack, interface};
    interface.set(asked.faults);
    patch_bay bay{jack, asked.client, asked.module};
    bay.set_cables(asked.cables);
    bay.set_back(asked.back);
    bay.set_loop(asked.loop);
    desk_control control{jack, interface, bay, asked.faults};
    std::cout << asked.client << ": ready, " << desk_channels << " in, " << desk_channels
              << " out, full scale " << asked.full_scale_volts << " V, " << jack.rate_hertz()
              << " Hz, blocks of " << jack.block_frames() << std::endl;
    return serve(jack, control, bay, stop);
}

}  // namespace

int main(int argc, char** argv) {
    constexpr int unusable = 2;
    try {
        return run({argv + 1, argv + argc});
    } catch (const std::exception& mistake) {
        std::cerr << mistake.what() << '\n';
        return unusable;
    }
}
