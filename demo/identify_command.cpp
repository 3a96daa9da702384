#include "demo/arguments.hpp"
#include "demo/commands.hpp"

#include <iomanip>
#include <iostream>

namespace ferrule {

int identify_command(std::span<const std::string> words) {
    const auto asked = parse_arguments(words);
    std::cout << "cvrig demo,Ferrule," << std::setw(4) << std::setfill('0') << asked.unit << ','
              << asked.image.version << '\n';
    return 0;
}

}  // namespace ferrule
