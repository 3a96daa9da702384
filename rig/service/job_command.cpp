#include "rig/service/job_command.hpp"

namespace cvrig::service {

namespace fs = std::filesystem;

fs::path image_copy_of(const job& j) {
    return fs::path{j.report_folder} / "image" / fs::path{j.image}.filename();
}

std::vector<std::string> command_of(const job& j, const run_settings& s) {
    std::vector<std::string> out{
        s.program.string(), "run",      s.expectations,  "--bench", s.bench, "--image",
        image_copy_of(j),   "--report", j.report_folder, "--tell",  "3",     "--owned",
        "--quiet"};
    const auto add = [&](const char* option, const std::string& value) {
        if (!value.empty()) out.insert(out.end(), {option, value});
    };
    add("--unit", j.unit);
    add("--build-name", j.build_name);
    add("--commit", j.commit);
    for (const auto& pair : s.with) add("--with", pair);
    if (s.unattended) out.emplace_back("--unattended");
    return out;
}

std::vector<std::string> variables_of(const run_settings& s) {
    return {"CVRIG_HISTORY=" + s.history};
}

}  // namespace cvrig::service
