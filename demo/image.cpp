#include "demo/image.hpp"

#include "demo/firmware_file.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <fstream>
#include <iterator>
#include <sstream>
#include <string_view>

namespace ferrule {
namespace {

constexpr std::string_view first_line = "ferrule image 1";

constexpr double most_lines = 1e6;
constexpr double kib = 1024.0;

/// Of the console and of the linker; false if the key is none of them.
bool read_habit(image& into, const std::string& key, const std::string& value) {
    const auto number = [&](double low, double high) { return number_of(key, value, low, high); };
    if (key == "load") {
        into.console.load_percent = number(0.0, 100.0);
    } else if (key == "leak") {
        into.console.leak_bytes = number(0.0, most_lines);
    } else if (key == "mute after") {
        into.console.mute_after = static_cast<int>(number(0.0, most_lines));
    } else if (key == "reset after") {
        into.console.reset_after = static_cast<int>(number(1.0, most_lines));
    } else if (key == "calibration") {
        read_calibration_habit(into.calibration, value);
    } else if (key == "code") {
        into.linked.code_bytes = static_cast<std::size_t>(number(1.0, 1024.0) * kib);
    } else if (key == "stamp") {
        into.linked.stamp = value;
    } else if (key == "crc" && value == "wrong") {
        into.linked.wrong_crc = true;
    } else {
        return false;
    }
    return true;
}

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
    } else if (!value.empty() && read_habit(into, key, value)) {
        return;
    } else {
        throw user_mistake("\"" + line +
                           "\" is none of version, name, note, fault, load, leak, mute "
                           "after, reset after, calibration, code, stamp and crc, each with a "
                           "colon and what it says.");
    }
}

}  // namespace

image read_image(const std::filesystem::path& path) {
    std::ifstream on_disk{path, std::ios::binary};
    if (!on_disk) throw user_mistake("The image " + path.string() + " cannot be read.");
    std::string text{std::istreambuf_iterator<char>{on_disk}, {}};
    if (text.starts_with(':')) text = description_in(text, path.string());
    std::istringstream file{text};
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
