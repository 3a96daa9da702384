#include "demo/platform/serial_device.hpp"

#include "demo/user_mistake.hpp"

#include <fcntl.h>
#include <termios.h>

namespace ferrule {
namespace {

constexpr int turns_between_tries = 20;

}  // namespace

void serial_device::open(const std::string& name) {
    name_ = name;
    if (::access(name.c_str(), F_OK) != 0) {
        throw user_mistake("There is no device " + name + " for the console.");
    }
    try_to_open();
}

void serial_device::try_to_open() {
    rest_ = turns_between_tries;
    device_ = descriptor{::open(name_.c_str(), O_RDWR | O_NOCTTY | O_NONBLOCK | O_CLOEXEC)};
    termios raw{};
    if (!device_.is_open() || ::tcgetattr(device_.number(), &raw) != 0) return;
    ::cfmakeraw(&raw);
    ::tcsetattr(device_.number(), TCSANOW, &raw);
}

bool serial_device::is_connected() {
    if (!device_.is_open() && --rest_ <= 0) try_to_open();
    return device_.is_open();
}

void serial_device::hung_up() {
    device_.close();
    rest_ = turns_between_tries;
}

}  // namespace ferrule
