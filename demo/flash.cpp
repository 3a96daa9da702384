#include "demo/flash.hpp"

#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <fstream>
#include <iomanip>
#include <string_view>

namespace ferrule {
namespace {

constexpr std::string_view first_line = "ferrule flash 1";
constexpr std::string_view offset_name = "offset-volts";
constexpr std::string_view slope_name = "slope-volts-per-code";
constexpr std::string_view table_name = "table-volts-";

std::size_t point_of(const std::string& text) {
    constexpr double points = calibration::table_points;
    return static_cast<std::size_t>(number_of("table point", text, 1.0, points)) - 1;
}

/// A table that adds nothing is not worth its room.
void write_table(std::ostream& file, const calibration& stored) {
    if (stored.table_volts == calibration{}.table_volts) return;
    for (std::size_t i = 0; i < calibration::table_points; ++i)
        file << table_name << i + 1 << '=' << stored.table_volts[i] << '\n';
}

void read_line(flash& into, const std::string& line) {
    const auto [name, value] = split_at_equals(line);
    if (name == offset_name) {
        into.stored.offset_volts = number_of(name, value);
    } else if (name == slope_name) {
        into.stored.slope_volts_per_code = number_of(name, value);
    } else if (name.starts_with(table_name)) {
        const auto point = name.substr(table_name.size());
        into.stored.table_volts[point_of(point)] = number_of(name, value);
    } else if (!read_setting(into.set, name, value)) {
        throw user_mistake("\"" + name + "\" is nothing that a Ferrule keeps; remove the line.");
    }
}

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
        try {
            read_line(read, line);
        } catch (const user_mistake& mistake) {
            throw user_mistake(path.string() + ":" + std::to_string(number) + ": " +
                               mistake.what());
        }
    }
    return read;
}

void write_flash(const std::filesystem::path& path, const flash& what) {
    const std::filesystem::path half = path.string() + ".part";
    {
        std::ofstream file{half};
        file << first_line << '\n'
             << std::setprecision(17) << offset_name << '=' << what.stored.offset_volts << '\n'
             << slope_name << '=' << what.stored.slope_volts_per_code << '\n';
        write_table(file, what.stored);
        file << write_settings(what.set);
        if (!file.flush()) throw user_mistake("The state " + path.string() + " cannot be written.");
    }
    std::filesystem::rename(half, path);
}

}  // namespace ferrule
