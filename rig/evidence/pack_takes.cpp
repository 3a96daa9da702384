#include "rig/evidence/pack_takes.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <nlohmann/json.hpp>

#include "rig/evidence/member_name.hpp"
#include "rig/evidence/pack_files.hpp"
#include "rig/evidence/pack_sound.hpp"
#include "rig/evidence/scrub_records.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

std::vector<std::string> jacks_in(const nlohmann::json& about, const char* key,
                                  const fs::path& file) {
    try {
        return about.at(key).get<std::vector<std::string>>();
    } catch (const nlohmann::json::exception&) {
        throw user_error{
            fmt::format("{} is not the description of a kept take; keep the folder as `cvrig "
                        "run --keep-takes` wrote it.",
                        file.string())};
    }
}

/// The bytes that its sound took before.
std::uintmax_t add_take(gathering& to, const fs::path& folder, const private_names& names) {
    const auto file = folder / "take.json";
    const auto text = bytes_of(file);
    const auto about = nlohmann::json::parse(text, nullptr, false);
    const auto name = fmt::format("takes/{}", folder.filename().string());
    const auto sent = jacks_in(about, "sent", file);
    auto stimulus = pack_sound(to.folder(), name + "/stimulus",
                               read_wave_file(folder / "stimulus.wav", sent.size()), sent);
    // As much again: another machine may render the last bit of a float differently.
    to.add_text(name + "/take.json",
                scrubbed_take(text, file.string(), 2.0 * rounding_volts(stimulus), names));
    to.add_sound(std::move(stimulus));
    auto bytes = fs::file_size(folder / "stimulus.wav");
    const auto response = folder / "response.wav";
    if (!fs::exists(response)) return bytes;
    const auto heard = jacks_in(about, "heard", file);
    to.add_sound(
        pack_sound(to.folder(), name + "/response", read_wave_file(response, heard.size()), heard));
    return bytes + fs::file_size(response);
}

}  // namespace

std::uintmax_t pack_takes(gathering& to, const fs::path& run, const private_names& names) {
    std::vector<fs::path> folders;
    for (const auto& entry : fs::directory_iterator{run / "takes"})
        if (fs::exists(entry.path() / "take.json") &&
            is_member_name(fmt::format("takes/{}/take.json", entry.path().filename().string())))
            folders.push_back(entry.path());
    std::ranges::sort(folders);
    std::uintmax_t bytes = 0;
    for (const auto& folder : folders) bytes += add_take(to, folder, names);
    return bytes;
}

}  // namespace cvrig::evidence
