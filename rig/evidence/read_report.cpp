#include "rig/evidence/read_report.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::evidence {

namespace {

using nlohmann::json;

/// Thrown inside, and told with the file's name.
struct fault {
    std::string what;
};

const json& at(const json& map, const char* key) {
    if (!map.is_object()) throw fault{fmt::format("a map with the key '{}' is missing", key)};
    const auto found = map.find(key);
    if (found == map.end()) throw fault{fmt::format("the key '{}' is missing", key)};
    return *found;
}

std::string text_at(const json& map, const char* key) {
    const auto& v = at(map, key);
    if (!v.is_string()) throw fault{fmt::format("'{}' is no text", key)};
    return v.get<std::string>();
}

const json& list_at(const json& map, const char* key) {
    const auto& v = at(map, key);
    if (!v.is_array()) throw fault{fmt::format("'{}' is no list", key)};
    return v;
}

/// Empty for null, by which a report tells a number that is not finite.
std::optional<double> number_at(const json& map, const char* key) {
    const auto& v = at(map, key);
    if (v.is_null()) return std::nullopt;
    if (!v.is_number()) throw fault{fmt::format("'{}' is no number", key)};
    return v.get<double>();
}

verdict verdict_at(const json& map, const char* key) {
    const auto word = text_at(map, key);
    for (const auto v : {verdict::pass, verdict::fail, verdict::unsure, verdict::skipped})
        if (in_words(v) == word) return v;
    throw fault{fmt::format("{} is no verdict", cvrig::quoted(word))};
}

dimension quantity_at(const json& map, const char* key) {
    const auto word = text_at(map, key);
    if (const auto d = report::dimension_named(word)) return *d;
    throw fault{fmt::format("{} is no quantity", cvrig::quoted(word))};
}

int whole_at(const json& map, const char* key) {
    const auto& v = at(map, key);
    if (!v.is_number_integer()) throw fault{fmt::format("'{}' is no whole number", key)};
    return v.get<int>();
}

/// The budget's part of that name; 0 if there is none.
double part_of(const json& r, std::string_view name) {
    if (!r.contains("budget")) return 0.0;
    for (const auto& part : list_at(r, "budget"))
        if (text_at(part, "source") == name)
            return number_at(part, "standard_uncertainty").value_or(0.0);
    return 0.0;
}

told_reading reading_from(const json& r) {
    told_reading out{number_at(r, "value"),
                     number_at(r, "standard_uncertainty"),
                     quantity_at(r, "quantity"),
                     text_at(r, "at"),
                     1,
                     part_of(r, "baseline")};
    if (out.standard_uncertainty && *out.standard_uncertainty < 0.0)
        throw fault{"a standard uncertainty is negative"};
    return out;
}

void read_limit(told_finding& to, const json& l) {
    to.demand = text_at(l, "text");
    if (l.contains("lower")) to.lower = number_at(l, "lower");
    if (l.contains("upper")) to.upper = number_at(l, "upper");
}

told_finding finding_from(const json& f) {
    told_finding out;
    out.name = text_at(f, "name");
    out.outcome = verdict_at(f, "verdict");
    if (f.contains("reason")) out.reason = text_at(f, "reason");
    if (f.contains("reading")) out.measured = reading_from(at(f, "reading"));
    if (f.contains("answer"))
        out.answered =
            told_answer{text_at(at(f, "answer"), "text"), number_at(at(f, "answer"), "probability"),
                        number_at(at(f, "answer"), "probability_of_expected")};
    if (f.contains("limit")) read_limit(out, at(f, "limit"));
    if (f.contains("expected")) out.demand = text_at(f, "expected");
    if (f.contains("does_not_apply")) {
        if (!f.at("does_not_apply").is_boolean()) throw fault{"'does_not_apply' is no yes or no"};
        out.does_not_apply = f.at("does_not_apply").get<bool>();
    }
    return out;
}

setting_choice settings_of(const json& map) {
    const auto& settings = at(map, "settings");
    if (!settings.is_object()) throw fault{"'settings' is no map"};
    setting_choice out;
    for (const auto& [name, setting_value] : settings.items())
        out[name] = text_at(settings, name.c_str());
    return out;
}

told_check check_from(const json& c) {
    told_check out;
    out.check = text_at(c, "check");
    out.choice = settings_of(c);
    const int version = c.contains("measurement_version") ? whole_at(c, "measurement_version") : 1;
    for (const auto& f : list_at(c, "findings")) {
        out.findings.push_back(finding_from(f));
        if (auto& read = out.findings.back().measured) read->measurement_version = version;
    }
    return out;
}

told_take take_from(const json& t) {
    told_take out{whole_at(t, "number"),
                  whole_at(t, "attempt"),
                  settings_of(t),
                  number_at(t, "length_s"),
                  {}};
    for (const auto& problem : list_at(t, "problems"))
        if (problem.is_string()) out.problems.push_back(problem.get<std::string>());
    return out;
}

/// Older reports tell only the first two.
void build_from(const json& build, told_run& out) {
    out.build_name = text_at(build, "name");
    out.build_sha256 = text_at(build, "sha256");
    if (build.contains("commit")) out.commit = text_at(build, "commit");
    if (build.contains("version")) out.version = text_at(build, "version");
    if (!build.contains("size_bytes")) return;
    const auto& size = at(build, "size_bytes");
    if (!size.is_number_unsigned()) throw fault{"'size_bytes' is no number of bytes"};
    out.size_bytes = size.get<std::uint64_t>();
}

told_run run_from(const json& all) {
    told_run out;
    out.outcome = verdict_at(all, "verdict");
    out.module = text_at(all, "module");
    out.unit = text_at(all, "unit");
    build_from(at(all, "build"), out);
    out.bench_name = text_at(at(all, "bench"), "name");
    out.link = text_at(at(all, "bench"), "link");
    out.expectations_sha256 = text_at(at(all, "expectations_file"), "sha256");
    out.bench_sha256 = text_at(at(all, "bench_file"), "sha256");
    out.rig_version = text_at(all, "rig_version");
    out.started = text_at(all, "started");
    const auto k = number_at(all, "coverage_factor");
    if (!k || !(*k > 0.0)) throw fault{"'coverage_factor' is no number above 0"};
    out.coverage_factor = *k;
    for (const auto& c : list_at(all, "checks")) out.checks.push_back(check_from(c));
    out.is_partial = all.contains("partial") && all.at("partial") == true;
    if (all.contains("sound_s")) out.sound_s = number_at(all, "sound_s");
    if (all.contains("wall_s")) out.wall_s = number_at(all, "wall_s");
    if (!all.contains("takes")) return out;
    for (const auto& t : list_at(all, "takes")) out.takes.push_back(take_from(t));
    return out;
}

void require_format_1(const json& all, const std::string& file) {
    const auto format = all.is_object() ? all.value("format", json{}) : json{};
    if (format == "cvrig report 1") return;
    if (format.is_string() && format.get<std::string>().starts_with("cvrig report "))
        throw user_error{
            fmt::format("{} is of the format {}, and this cvrig reads 'cvrig report 1'; "
                        "use a newer cvrig.",
                        file, cvrig::quoted(format.get<std::string>()))};
    throw user_error{
        fmt::format("{} is no report of cvrig; name the folder of a `cvrig run`.", file)};
}

}  // namespace

std::optional<double> told_reading::own_uncertainty() const {
    if (!standard_uncertainty) return std::nullopt;
    const double squares = *standard_uncertainty * *standard_uncertainty - u_baseline * u_baseline;
    return std::sqrt(std::max(squares, 0.0));
}

setting_choice settings_throughout(const told_run& run) {
    std::vector<setting_choice> all;
    for (const auto& c : run.checks) all.push_back(c.choice);
    return throughout(all);
}

told_run read_report(std::string_view text, const std::string& file) {
    const auto all = json::parse(text, nullptr, false);
    require_format_1(all, file);
    try {
        return run_from(all);
    } catch (const fault& f) {
        throw user_error{fmt::format("The report {} cannot be used: {}; keep it as cvrig wrote it.",
                                     file, f.what)};
    }
}

told_run read_report_of(const std::filesystem::path& folder) {
    const auto file = folder / "report.json";
    std::ifstream in{file, std::ios::binary};
    if (!in)
        throw user_error{
            fmt::format("{} holds no report.json; name the report folder of a `cvrig run` "
                        "that was completed.",
                        folder.string())};
    std::ostringstream text;
    text << in.rdbuf();
    return read_report(text.str(), file.string());
}

}  // namespace cvrig::evidence
