#include "rig/run/kept_takes.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>

#include "rig/platform/files.hpp"
#include "rig/run/plain_name.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;
using nlohmann::json;

// Settings, part and attempt name a take, so that it is found again whatever order a later plan has.
std::string name_of(const setting_choice& choice, const std::string& part, int attempt) {
    std::string name;
    for (const auto& [setting, value] : choice) name += fmt::format("{}={},", setting, value);
    if (!part.empty()) name += part + ',';
    return fmt::format("{}attempt={}", plain_name(name), attempt);
}

json description_of(const take& t) {
    json all{{"format", "cvrig take 1"}, {"settings", t.choice}, {"number", t.number},
             {"attempt", t.attempt},     {"sent", t.sent.jacks}, {"heard", t.heard_jacks},
             {"problems", t.problems},   {"log", t.log}};
    if (!t.skipped.empty()) all["skipped"] = t.skipped;
    if (!t.module_faults.empty()) all["module_faults"] = t.module_faults;
    if (!t.module_doubts.empty()) all["module_doubts"] = t.module_doubts;
    return all;
}

bool is_list_of_texts(const json& v) {
    return v.is_array() && std::ranges::all_of(v, [](const json& one) { return one.is_string(); });
}

bool is_allowance(const json& v) {
    return v.is_number() && v.get<double>() >= 0.0;
}

bool is_description(const json& v) {
    if (!v.is_object() || v.value("format", json{}) != "cvrig take 1") return false;
    return is_list_of_texts(v.value("sent", json{})) &&
           is_list_of_texts(v.value("heard", json{})) &&
           is_list_of_texts(v.value("problems", json{})) && v.value("log", json{}).is_string() &&
           v.value("skipped", json("")).is_string() &&
           is_allowance(v.value("sent_within_volts", json(0.0))) &&
           is_list_of_texts(v.value("module_faults", json::array())) &&
           is_list_of_texts(v.value("module_doubts", json::array()));
}

json read_description(const fs::path& file) {
    std::ifstream in{file};
    auto parsed = json::parse(in, nullptr, false);
    if (!is_description(parsed))
        throw user_error{
            fmt::format("{} is not the description of a kept take; keep the folder as `cvrig run "
                        "--keep-takes` wrote it.",
                        file.string())};
    return parsed;
}

/// True if no sample differs by more than `within`: what was rounded to fewer bits is the same signal.
bool is_same(const std::vector<std::vector<float>>& stored,
             const std::vector<std::vector<float>>& sent, double within_volts) {
    return std::ranges::equal(stored, sent, [&](const auto& a, const auto& b) {
        return std::ranges::equal(a, b, [&](float x, float y) {
            return std::abs(static_cast<double>(x) - static_cast<double>(y)) <= within_volts;
        });
    });
}

}  // namespace

void keep_take(const fs::path& folder, const take& came_back) {
    const fs::path place =
        folder / "takes" / name_of(came_back.choice, came_back.sent.part, came_back.attempt);
    std::error_code error;
    fs::create_directories(place, error);
    if (error)
        throw user_error{fmt::format("The take's folder {} could not be made: {}.", place.string(),
                                     error.message())};
    write_wave_file(place / "stimulus.wav", {came_back.sent.rate, came_back.sent.volts});
    if (!came_back.heard.empty())
        write_wave_file(place / "response.wav", {came_back.sent.rate, came_back.heard});
    write_file_atomically(place / "take.json", description_of(came_back).dump(2) + "\n");
}

kept_link::kept_link(fs::path folder) : folder_{std::move(folder)} {
    if (!fs::is_directory(folder_ / "takes"))
        throw user_error{fmt::format("{} holds no takes; run with --keep-takes to keep them.",
                                     folder_.string())};
}

take kept_link::play(const stimulus& sent, const setting_choice& choice, int number, int attempt) {
    const fs::path place = folder_ / "takes" / name_of(choice, sent.part, attempt);
    take out = begin_take(sent, choice, number, attempt);
    if (!fs::exists(place / "take.json")) {
        if (attempt == 1)
            throw user_error{fmt::format(
                "{} holds no take with {}; these expectations play what was not played then.",
                folder_.string(), in_words(choice))};
        out.problems.push_back("No such retake was kept.");
        return out;
    }
    const json about = read_description(place / "take.json");
    const auto stored = read_wave_file(place / "stimulus.wav", about.at("sent").size());
    const auto within_volts = about.value("sent_within_volts", 0.0);
    if (!is_same(stored.channels, sent.volts, within_volts) || about.at("sent") != json(sent.jacks))
        throw user_error{
            fmt::format("These expectations play other notes than {} holds; only limits may differ "
                        "when takes are judged again.",
                        place.string())};
    out.problems = about.value("problems", std::vector<std::string>{});
    out.log = about.value("log", "");
    out.skipped = about.value("skipped", "");
    out.module_faults = about.value("module_faults", std::vector<std::string>{});
    out.module_doubts = about.value("module_doubts", std::vector<std::string>{});
    out.heard_jacks = about.value("heard", std::vector<std::string>{});
    if (fs::exists(place / "response.wav"))
        out.heard = read_wave_file(place / "response.wav", out.heard_jacks.size()).channels;
    return out;
}

std::string kept_link::description() const {
    return "kept takes";
}

}  // namespace cvrig
