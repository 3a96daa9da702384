#include "demo/commands.hpp"
#include "demo/firmware_file.hpp"
#include "demo/user_mistake.hpp"

#include <filesystem>
#include <fstream>
#include <iterator>

namespace ferrule {
namespace {

namespace fs = std::filesystem;

std::string text_of(const fs::path& path) {
    std::ifstream in{path, std::ios::binary};
    return {std::istreambuf_iterator<char>{in}, {}};
}

/// Left alone if it says the same already, so that nothing that depends on it is made again.
void write(const fs::path& path, const std::string& text) {
    if (fs::exists(path) && text_of(path) == text) return;
    const auto beside = fs::path{path}.concat(".new");
    std::ofstream out{beside, std::ios::binary};
    out << text;
    out.close();
    if (!out) throw user_mistake("The firmware file " + path.string() + " cannot be written.");
    fs::rename(beside, path);
}

void link_one(const fs::path& build, const fs::path& to) {
    write(to, link_firmware(read_image(build), text_of(build)));
}

}  // namespace

int link_command(std::span<const std::string> words) {
    if (words.size() != 2)
        throw user_mistake("ferrule link needs a build and the firmware file to make of it.");
    const fs::path from = words[0];
    const fs::path to = words[1];
    if (!fs::is_directory(from)) {
        link_one(from, to);
        return 0;
    }
    fs::create_directories(to);
    for (const auto& entry : fs::directory_iterator{from})
        if (entry.path().extension() == ".ferrule")
            link_one(entry.path(), (to / entry.path().stem()).concat(".hex"));
    return 0;
}

}  // namespace ferrule
