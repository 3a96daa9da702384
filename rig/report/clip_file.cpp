#include "rig/report/clip_file.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cctype>

namespace cvrig::report {

std::string clip_file(const check_result& of, const sound_clip& clip) {
    std::string name = of.check + ',';
    for (const auto& [setting, value] : of.choice) name += fmt::format("{}={},", setting, value);
    name += clip.name;
    std::ranges::replace_if(
        name,
        [](unsigned char c) { return std::isalnum(c) == 0 && c != '=' && c != ',' && c != '.'; },
        '-');
    return fmt::format("{}/{}.wav", clip_folder, name);
}

}  // namespace cvrig::report
