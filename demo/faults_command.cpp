#include "demo/commands.hpp"
#include "demo/faults.hpp"
#include "demo/user_mistake.hpp"

#include <iomanip>
#include <iostream>

namespace ferrule {

int faults_command(std::span<const std::string> words) {
    if (!words.empty()) throw user_mistake("faults takes no arguments.");
    std::cout << std::left;
    for (const auto& known : all_faults()) {
        std::cout << std::setw(27) << known.name << std::setw(18) << known.unit << std::setw(8)
                  << known.typical << std::setw(44) << (known.checks.empty() ? "-" : known.checks)
                  << known.meaning << '\n';
    }
    return 0;
}

}  // namespace ferrule
