#include "demo/image.hpp"

#include "demo/user_mistake.hpp"

#include <fstream>
#include <string_view>

namespace ferrule {
namespace {

constexpr std::string_view first_line = "ferrule image 1";

void read_line(image& into, const std::string& line) {
    const auto colon = line.find(": ");
    const std::string key = line.substr(0, colon);
    const std::string value = colon == std::string::npos ? "" : line.substr(colon + 2);
    if (key == "version" && !value.empty()) {
        into.version = value;
    } else if (key == "name" && !value.empty()) {
        into.name = value;
    } else if (key == "note") {
        into.note += (into.note.empty() ? "" : "\n") + value;
    } else if (key == "fault" && value.find(' ') != std::string::npos) {
        const auto space = value.find(' ');
        add_fault(into.faults, value.substr(0, space) + ":" + value.substr(space + 1));
    } else {
        throw user_mistake("\"" + line +
                           "\" is none of version: TEXT, name: TEXT, note: TEXT and "
                           "fault: NAME MAGNITUDE.");
    }
}

}  // namespace

image read_image(const std::filesystem::path& path) {
    std::ifstream file{path};
    if (!file) throw user_mistake("The image " + path.string() + " cannot be read.");
    image read;
    std::string line;
    std::getline(file, line);
    if (line != first_line) {
        throw user_mistake(path.string() + ":1: this is not a Ferrule image; it must begin \"" +
                           std::string{first_line} + "\".");
    }
    for (int number = 2; std::getline(file, line); ++number) {
        if (line.empty() || line.front() == '#') continue;
        try {
            read_line(read, line);
        } catch (const user_mistake& mistake) {
            throw user_mistake(path.string() + ":" + std::to_string(number) + ": " +
                               mistake.what());
        }
    }
    return read;
}

}  // namespace ferrule
