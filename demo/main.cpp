#include "demo/commands.hpp"
#include "demo/user_mistake.hpp"

#include <array>
#include <exception>
#include <iostream>
#include <string_view>
#include <utility>
#include <vector>

namespace {

using command = int (*)(std::span<const std::string>);

constexpr std::array<std::pair<std::string_view, command>, 7> commands{
    {{"render", ferrule::render_command},
     {"live", ferrule::live_command},
     {"calibrate", ferrule::calibrate_command},
     {"identify", ferrule::identify_command},
     {"link", ferrule::link_command},
     {"console", ferrule::console_command},
     {"faults", ferrule::faults_command}}};

int run(const std::vector<std::string>& words) {
    std::string known;
    for (const auto& [name, call] : commands) {
        if (!words.empty() && words.front() == name) return call(std::span{words}.subspan(1));
        known += (known.empty() ? "" : ", ") + std::string{name};
    }
    throw ferrule::user_mistake("Say what to do: ferrule followed by one of " + known + ".");
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
