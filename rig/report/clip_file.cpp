#include "rig/report/clip_file.hpp"

#include <fmt/format.h>

#include "rig/run/plain_name.hpp"

namespace cvrig::report {

std::string clip_file(const check_result& of, const sound_clip& clip) {
    std::string name = of.check + ',';
    for (const auto& [setting, value] : of.choice) name += fmt::format("{}={},", setting, value);
    name += clip.name;
    return fmt::format("{}/{}.wav", clip_folder, plain_name(name));
}

}  // namespace cvrig::report
