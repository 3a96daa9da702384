#include "rig/platform/terminal.hpp"

#include <sys/ioctl.h>
#include <unistd.h>

#include <algorithm>
#include <cstdlib>
#include <string_view>

namespace cvrig {

namespace {

bool utf8_locale() {
    for (const char* name : {"LC_ALL", "LC_CTYPE", "LANG"}) {
        const char* text = std::getenv(name);
        if (text == nullptr || *text == '\0') continue;
        const std::string_view locale{text};
        return locale.find("UTF-8") != std::string_view::npos ||
               locale.find("utf8") != std::string_view::npos;
    }
    return false;
}

terminal_style style_of(int descriptor) {
    const bool is_terminal = isatty(descriptor) != 0;
    winsize size{};
    const bool known = is_terminal && ioctl(descriptor, TIOCGWINSZ, &size) == 0 && size.ws_col > 0;
    return {.colour = is_terminal && std::getenv("NO_COLOR") == nullptr,
            .width = known ? std::clamp<int>(size.ws_col, 60, 120) : 80,
            .utf8 = utf8_locale()};
}

}  // namespace

terminal_style output_style() {
    return style_of(STDOUT_FILENO);
}

terminal_style error_style() {
    return style_of(STDERR_FILENO);
}

bool error_is_terminal() {
    return isatty(STDERR_FILENO) != 0;
}

}  // namespace cvrig
