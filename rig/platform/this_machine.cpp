#include "rig/platform/this_machine.hpp"

#include <unistd.h>

#include <array>
#include <fstream>

#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

std::string host_name() {
    std::array<char, 256> name{};
    return ::gethostname(name.data(), name.size() - 1) == 0 ? name.data() : "";
}

std::string machine_identity() {
    for (const auto* file : {"/etc/machine-id", "/var/lib/dbus/machine-id"}) {
        std::ifstream in{file};
        std::string line;
        if (std::getline(in, line) && !line.empty()) return line;
    }
    return host_name();
}

}  // namespace

std::string this_machine() {
    constexpr std::size_t digits = 16;
    return sha256_of("cvrig " + machine_identity()).substr(0, digits);
}

}  // namespace cvrig
