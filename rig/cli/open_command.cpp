#include <fmt/format.h>

#include <filesystem>
#include <iostream>
#include <optional>
#include <utility>

#include "rig/cli/commands.hpp"
#include "rig/cli/judge_kept.hpp"
#include "rig/cli/report_files.hpp"
#include "rig/evidence/compare.hpp"
#include "rig/evidence/taken_over.hpp"
#include "rig/evidence/unpack.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/comparison_text.hpp"
#include "rig/report/evidence_text.hpp"
#include "rig/report/json.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

/// A result as its report tells it, so that both sides of a comparison went the same way.
evidence::told_run told(const run_result& result, const fs::path& folder) {
    auto out = evidence::read_report(json_report(result), "the report");
    evidence::name_originals(out, folder);
    return out;
}

exit_status status_of(const evidence::comparison& c) {
    if (c.differs()) return exit_status::failed;
    return c.is_complete() ? exit_status::passed : exit_status::undecided;
}

/// The worse of two: failed, then undecided, then passed.
exit_status worse(exit_status a, exit_status b) {
    for (const auto bad : {exit_status::failed, exit_status::undecided})
        if (a == bad || b == bad) return bad;
    return exit_status::passed;
}

/// True if something was read of a firmware file that the evidence does not hold.
bool lacks_image(const evidence::manifest& m) {
    return m.image && !m.image->is_inside;
}

/// What this build makes of opened evidence, in the limits that it was packed with or in others.
run_result judge(const evidence::unpacked_run& opened, const fs::path& folder,
                 const std::optional<std::string>& expectations) {
    auto result = kept_judge{folder, expectations}.judge();
    if (lacks_image(opened.what) && !expectations) evidence::take_over_image(result, opened.told);
    return result;
}

/// The run that evidence is set against: a report as it was written, or other evidence as this
/// build reads it.
evidence::told_run other_side(const std::string& run,
                              const std::optional<std::string>& expectations) {
    if (fs::is_directory(run)) {
        auto out = evidence::read_report_of(run);
        evidence::name_originals(out, run);
        return out;
    }
    const temporary_folder working;
    const auto folder = working.path() / "run";
    const auto opened = evidence::unpack(run, folder);
    return told(judge(opened, folder, expectations), folder);
}

/// Whether this build reads what was read then. With other expectations, verdicts may differ.
evidence::comparison against_packed(const evidence::unpacked_run& opened,
                                    const evidence::told_run& now, bool own_expectations) {
    auto c = lacks_image(opened.what) ? evidence::compare(evidence::without_image(opened.told),
                                                          evidence::without_image(now))
                                      : evidence::compare(opened.told, now);
    if (!own_expectations) return c;
    c.other_verdicts.clear();
    c.only_first.clear();
    c.only_second.clear();
    return c;
}

std::string in_short(exit_status status, bool is_compared) {
    const char* what = "everything passed, and it reads as it was packed";
    if (status == exit_status::passed && is_compared) what = "nothing differs";
    if (status == exit_status::failed)
        what = is_compared ? "something differs"
                           : "a demand failed, or a reading is not as it was packed";
    if (status == exit_status::undecided)
        what = is_compared ? "nothing differs for sure, but not everything could be compared"
                           : "nothing failed, but something is unsure or could not be compared";
    return fmt::format("\nIn short: {} (exit status {}).\n", what, static_cast<int>(status));
}

}  // namespace

exit_status open_command(const open_arguments& a) {
    const fs::path folder =
        a.report_folder.empty() ? evidence::folder_for_opening(a.file) : fs::path{a.report_folder};
    const auto opened = evidence::unpack(a.file, folder);
    prepare_report_folder(folder);
    const auto result = judge(opened, folder, a.expectations);
    write_reports(folder, result);
    const auto now = told(result, folder);
    std::cout << evidence_text(opened, output_style());
    print_result(result, folder, false);

    const auto packed = against_packed(opened, now, a.expectations.has_value());
    std::cout << fmt::format("\nRead when it was packed (cvrig {}) and read now (cvrig {}):\n",
                             opened.told.rig_version, now.rig_version)
              << comparison_text(packed, {"then", "now"}, output_style());
    auto status = worse(status_of(result, false), status_of(packed));
    if (!a.against.empty()) {
        const auto other = evidence::compare(now, other_side(a.against, a.expectations));
        std::cout << fmt::format("\nThe evidence ('here') against {} ('there'):\n", a.against)
                  << comparison_text(other, {"here", "there"}, output_style());
        status = packed.differs() ? exit_status::failed : status_of(other);
    }
    std::cout << in_short(status, !a.against.empty());
    return status;
}

}  // namespace cvrig
