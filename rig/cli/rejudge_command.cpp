#include "rig/cli/commands.hpp"
#include "rig/cli/judge_kept.hpp"
#include "rig/cli/report_files.hpp"

namespace cvrig {

exit_status rejudge_command(const rejudge_arguments& a) {
    namespace fs = std::filesystem;
    const fs::path kept{a.kept_folder};
    kept_judge again{kept, a.expectations};
    const fs::path folder = a.report_folder.empty() ? kept / "rejudged" : fs::path{a.report_folder};
    prepare_report_folder(folder);
    const auto result = again.judge();
    write_reports(folder, result);
    print_result(result, folder, false);
    return status_of(result, a.bisect);
}

}  // namespace cvrig
