#include "rig/evidence/scrub_records.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <nlohmann/json.hpp>
#include <sstream>

#include "rig/evidence/member_name.hpp"
#include "rig/evidence/scrub_bench.hpp"
#include "rig/expectations/user_error.hpp"

namespace cvrig::evidence {

namespace {

using json = nlohmann::ordered_json;

/// Judging goes by what stands under these keys.
bool is_name_of_judging(std::string_view key) {
    constexpr std::array all{std::string_view{"format"},   std::string_view{"verdict"},
                             std::string_view{"settings"}, std::string_view{"check"},
                             std::string_view{"checks"},   std::string_view{"name"},
                             std::string_view{"quantity"}, std::string_view{"text"},
                             std::string_view{"expected"}, std::string_view{"cause"},
                             std::string_view{"drawn"},    std::string_view{"sent"},
                             std::string_view{"heard"},    std::string_view{"sha256"},
                             std::string_view{"x_label"},  std::string_view{"y_label"},
                             std::string_view{"started"},  std::string_view{"follows_from"}};
    return std::ranges::find(all, key) != all.end();
}

void scrub_one(json& text, const private_names& names, scrub_count& replaced) {
    auto clean = scrubbed(text.get_ref<const std::string&>(), names);
    if (clean.replaced.all() == 0) return;
    replaced += clean.replaced;
    text = std::move(clean.text);
}

void scrub_all(json& at, const private_names& names, scrub_count& replaced) {
    if (at.is_string()) {
        scrub_one(at, names, replaced);
    } else if (at.is_array()) {
        for (auto& item : at) scrub_all(item, names, replaced);
    } else if (at.is_object()) {
        for (auto& [key, item] : at.items()) {
            // Lists of checks are names in a take, and results in a report.
            const bool holds_results =
                key == "checks" && item.is_array() && !item.empty() && item.front().is_object();
            if (holds_results || !is_name_of_judging(key)) scrub_all(item, names, replaced);
        }
    }
}

json parsed(std::string_view text, const std::string& file) {
    auto all = json::parse(text, nullptr, false);
    if (!all.is_object())
        throw user_error{
            fmt::format("{} is not what `cvrig run` writes; run again and pack that.", file)};
    return all;
}

scrubbed_text written(const json& all, const scrub_count& replaced) {
    return {all.dump(2, ' ', false, json::error_handler_t::replace) + "\n", replaced};
}

/// The value under two keys, if it is a text: names of builds and benches stand under "name".
void scrub_named(json& all, const char* in, const char* key, const private_names& names,
                 scrub_count& replaced) {
    if (!all.contains(in) || !all.at(in).is_object()) return;
    if (const auto found = all.at(in).find(key); found != all.at(in).end() && found->is_string())
        scrub_one(*found, names, replaced);
}

/// The commands that built and flashed, word by word.
void scrub_commands(json& all, const private_names& names, scrub_count& replaced) {
    if (!all.contains("preparation") || !all.at("preparation").contains("steps")) return;
    for (auto& step : all.at("preparation").at("steps")) {
        if (!step.contains("command") || !step.at("command").is_string()) continue;
        std::string clean;
        std::istringstream words{step.at("command").get<std::string>()};
        for (std::string word; words >> word;) {
            auto one = scrubbed_argument(word, names);
            replaced += one.replaced;
            clean += (clean.empty() ? "" : " ") + one.text;
        }
        step["command"] = std::move(clean);
    }
}

void rename_file(json& all, const char* key, std::string_view to) {
    if (all.contains(key) && all.at(key).is_object()) all.at(key)["file"] = to;
}

/// The second of the day in "2026-11-25T20:15:30.123", which begins a line; empty if it begins otherwise.
std::optional<double> second_of_day(std::string_view line) {
    constexpr std::string_view form{"dddd-dd-ddTdd:dd:dd.ddd "};
    if (line.size() < form.size()) return std::nullopt;
    for (std::size_t i = 0; i < form.size(); ++i) {
        const bool is_digit = line[i] >= '0' && line[i] <= '9';
        if (form[i] == 'd' ? !is_digit : line[i] != form[i]) return std::nullopt;
    }
    const auto number = [&](std::size_t at) { return 10 * (line[at] - '0') + line[at + 1] - '0'; };
    const int thousandths = 100 * (line[20] - '0') + number(21);
    return 3600.0 * number(11) + 60.0 * number(14) + number(17) + thousandths / 1000.0;
}

}  // namespace

scrubbed_text scrubbed_report(std::string_view text, const std::string& file,
                              const std::string& link, const private_names& names) {
    auto all = parsed(text, file);
    scrub_count replaced;
    if (all.contains("bench") && all.at("bench").is_object()) all.at("bench")["link"] = link;
    rename_file(all, "expectations_file", member::expectations);
    rename_file(all, "bench_file", member::bench);
    scrub_commands(all, names, replaced);
    scrub_all(all, names, replaced);
    scrub_named(all, "build", "name", names, replaced);
    scrub_named(all, "bench", "name", names, replaced);
    return written(all, replaced);
}

scrubbed_text scrubbed_take(std::string_view text, const std::string& file,
                            double sent_within_volts, const private_names& names) {
    auto all = parsed(text, file);
    scrub_count replaced;
    scrub_all(all, names, replaced);
    all["sent_within_volts"] = sent_within_volts;
    return written(all, replaced);
}

scrubbed_text scrubbed_facts(std::string_view text, const std::string& file, bool has_image,
                             const private_names& names) {
    auto all = parsed(text, file);
    scrub_count replaced;
    scrub_all(all, names, replaced);
    if (all.contains("image") && !has_image) {
        all.erase("image");
        all["no_image"] =
            "The firmware file was left out of the evidence; `cvrig pack --with-image` puts it in.";
    } else if (all.contains("image") && all.at("image").is_object()) {
        all.at("image")["name"] = member::image;
    }
    return written(all, replaced);
}

scrubbed_text scrubbed_run(std::string_view text, const std::string& file,
                           const private_names& names) {
    auto all = parsed(text, file);
    scrub_count replaced;
    scrub_all(all, names, replaced);
    scrub_named(all, "build", "name", names, replaced);
    return written(all, replaced);
}

scrubbed_text scrubbed_log(std::string_view text, const private_names& names) {
    constexpr std::size_t time_columns = 23;
    constexpr double day = 86400.0;
    scrubbed_text out;
    std::optional<double> first;
    while (!text.empty()) {
        const auto end = std::min(text.find('\n'), text.size());
        auto line = text.substr(0, end);
        text.remove_prefix(std::min(end + 1, text.size()));
        if (const auto now = second_of_day(line)) {
            if (!first) first = now;
            const double since = *now - *first;
            out.text += fmt::format("{:+.3f} s", since < 0.0 ? since + day : since);
            line.remove_prefix(time_columns);
        }
        auto clean = scrubbed(line, names);
        out.replaced += clean.replaced;
        out.text += clean.text + '\n';
    }
    return out;
}

}  // namespace cvrig::evidence
