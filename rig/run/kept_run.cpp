#include "rig/run/kept_run.hpp"

#include <fmt/format.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "rig/bench/trim_file.hpp"
#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::string_view format_line = "cvrig kept run 1";
constexpr const char* run_name = "run.json";
constexpr const char* trim_name = "trim.yaml";

json in_json(const baseline_reading& r) {
    return {{"check", r.check}, {"settings", r.settings},      {"name", r.name},
            {"value", r.value}, {"u", r.standard_uncertainty}, {"run", r.run},
            {"build", r.build}, {"elsewhere", r.elsewhere}};
}

std::vector<baseline_reading> baseline_from(const json& all) {
    std::vector<baseline_reading> out;
    for (const auto& r : all)
        out.push_back({r.at("check").get<std::string>(), r.at("settings").get<setting_choice>(),
                       r.at("name").get<std::string>(), r.at("value").get<double>(),
                       r.at("u").get<double>(), r.at("run").get<std::string>(),
                       r.at("build").get<std::string>(), r.value("elsewhere", std::string{})});
    return out;
}

json in_json(const kept_run& asked) {
    json build{{"name", asked.build_name},
               {"sha256", asked.build_sha256},
               {"commit", asked.build_commit},
               {"version", asked.build_version}};
    if (asked.build_size_bytes) build["size_bytes"] = *asked.build_size_bytes;
    auto baseline = json::array();
    for (const auto& r : asked.baseline) baseline.push_back(in_json(r));
    return {{"format", format_line},
            {"checks", asked.filter.checks},
            {"settings", asked.filter.settings},
            {"unit", asked.unit},
            {"build", build},
            {"baseline", baseline}};
}

kept_run from(const json& all) {
    if (all.at("format") != format_line) throw json::other_error::create(501, "format", nullptr);
    kept_run out;
    all.at("checks").get_to(out.filter.checks);
    all.at("settings").get_to(out.filter.settings);
    all.at("unit").get_to(out.unit);
    if (all.contains("baseline")) out.baseline = baseline_from(all.at("baseline"));
    const auto& build = all.at("build");
    build.at("name").get_to(out.build_name);
    build.at("sha256").get_to(out.build_sha256);
    out.build_commit = build.value("commit", std::string{});  // an older run kept none of these
    out.build_version = build.value("version", std::string{});
    if (build.contains("size_bytes"))
        out.build_size_bytes = build.at("size_bytes").get<std::uintmax_t>();
    return out;
}

}  // namespace

void keep_run(const fs::path& folder, const kept_run& asked, const bench& b) {
    write_file_atomically(
        folder / run_name,
        in_json(asked).dump(2, ' ', false, json::error_handler_t::replace) + "\n");
    std::error_code ignored;
    fs::remove(folder / trim_name, ignored);  // an earlier run's
    if (b.trimmed) write_trim_file((folder / trim_name).string(), read_trim_file(b.trim_file));
}

kept_run read_kept_run(const fs::path& folder) {
    const auto file = folder / run_name;
    if (!fs::exists(file)) return {};
    std::ifstream in{file};
    try {
        return from(json::parse(in));
    } catch (const json::exception&) {
        throw user_error{
            fmt::format("{} does not say what a run was asked; keep the folder as `cvrig run "
                        "--keep-takes` wrote it.",
                        file.string())};
    }
}

bench read_kept_bench(const fs::path& folder) {
    auto b = read_bench((folder / "bench.yaml").string());
    const auto trim = folder / trim_name;
    if (!b.audio || !fs::exists(trim)) return b;
    b.trim_file = trim.string();
    apply(read_trim_file(b.trim_file), b);
    return b;
}

}  // namespace cvrig
