#include "demo/flash.hpp"

#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <fstream>
#include <iomanip>

namespace ferrule {
namespace {

constexpr std::string_view first_line = "ferrule flash 1";

}  // namespace

flash read_flash(const std::filesystem::path& path) {
    flash read;
    std::ifstream file{path};
    if (!file) return read;
    std::string line;
    std::getline(file, line);
    if (line != first_line) {
        throw user_mistake(path.string() +
                           ":1: this is not a Ferrule flash file; it must begin \"" +
                           std::string{first_line} + "\".");
    }
    for (int number = 2; std::getline(file, line); ++number) {
        const auto [name, value] = split_at_equals(line);
        if (name == "offset-volts") {
            read.stored.offset_volts = number_of(name, value);
        } else if (name == "slope-volts-per-code") {
            read.stored.slope_volts_per_code = number_of(name, value);
        } else {
            throw user_mistake(path.string() + ":" + std::to_string(number) + ": \"" + line +
                               "\" is not a stored constant; calibrate the unit again.");
        }
    }
    return read;
}

void write_flash(const std::filesystem::path& path, const flash& what) {
    const std::filesystem::path half = path.string() + ".part";
    {
        std::ofstream file{half};
        file << first_line << '\n'
             << std::setprecision(17) << "offset-volts=" << what.stored.offset_volts << '\n'
             << "slope-volts-per-code=" << what.stored.slope_volts_per_code << '\n';
        if (!file.flush()) throw user_mistake("The state " + path.string() + " cannot be written.");
    }
    std::filesystem::rename(half, path);
}

}  // namespace ferrule
