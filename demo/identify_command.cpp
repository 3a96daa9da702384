#include "demo/arguments.hpp"
#include "demo/commands.hpp"

#include <iostream>

namespace ferrule {

int identify_command(std::span<const std::string> words) {
    std::cout << identity_of(parse_arguments(words)) << '\n';
    return 0;
}

}  // namespace ferrule
