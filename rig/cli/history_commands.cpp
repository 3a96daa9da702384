#include <fmt/format.h>

#include <fstream>
#include <iostream>
#include <sstream>

#include "rig/cli/file_in_history.hpp"
#include "rig/cli/history_arguments.hpp"
#include "rig/evidence/compare.hpp"
#include "rig/history/baseline.hpp"
#include "rig/history/export.hpp"
#include "rig/history/row_number.hpp"
#include "rig/history/trend.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/platform/user_folders.hpp"
#include "rig/platform/utc_now.hpp"
#include "rig/report/comparison_text.hpp"
#include "rig/report/history_json.hpp"
#include "rig/report/history_text.hpp"

namespace cvrig {

namespace {

using history::opening;

/// What was printed may be piped into a file: a part of it must not pass for the whole.
void require_printed() {
    if (!std::cout.flush())
        throw user_error{
            "Not everything could be written to the output; it is not complete. Make room, or "
            "write elsewhere."};
}

void print(const history_arguments& a, const std::string& json, const std::string& text) {
    std::cout << (a.json ? json : text);
    require_printed();
}

bool is_same_subject(const history::stored_run& a, const history::stored_run& b) {
    return a.build.module == b.build.module && a.unit == b.unit && a.bench == b.bench;
}

/// A build that was named has runs of several units: that of the other run's unit and bench, if there is one.
history::stored_run like(history::database& in, const std::string& named,
                         const history::stored_run& run, const history::stored_run& other) {
    const bool is_one_run = named == "latest" || history::row_number(named).has_value();
    if (is_one_run || is_same_subject(run, other)) return run;
    const auto found = history::list_runs(in, {.module = other.build.module,
                                               .unit = other.unit,
                                               .bench = other.bench,
                                               .build = named,
                                               .most = 1});
    return found.empty() ? run : found.front();
}

exit_status status_of(const evidence::comparison& c, bool same_subject) {
    if (c.differs()) return exit_status::failed;
    return same_subject && c.is_complete() ? exit_status::passed : exit_status::undecided;
}

}  // namespace

exit_status history_command(const history_arguments& a) {
    const auto how = a.report_folders.empty() ? opening::to_read : opening::to_write;
    const auto in = asked_history(a, how);
    for (const auto& folder : a.report_folders) {
        const auto filed = file_report_folder(*in, folder);
        std::cerr << fmt::format("{} is {}run {}.\n", folder, filed.is_new ? "" : "already ",
                                 filed.id);
    }
    const auto runs = history::list_runs(*in, a.which);
    if (runs.empty() && !a.json) {
        std::cout << "No such run was filed.\n";
        return exit_status::undecided;
    }
    print(a, runs_json(runs), runs_text(runs, output_style()));
    return exit_status::passed;
}

exit_status show_command(const history_arguments& a) {
    const auto in = asked_history(a, opening::to_read);
    const auto run = history::find_run(*in, a.run);
    const auto told = history::read_run(*in, run);
    print(a, run_json(run, told), run_text(run, told, output_style()));
    return exit_status::passed;
}

exit_status compare_command(const history_arguments& a) {
    const auto in = asked_history(a, opening::to_read);
    auto first = history::find_run(*in, a.run);
    const auto second = like(*in, a.other_run, history::find_run(*in, a.other_run), first);
    first = like(*in, a.run, first, second);
    const auto c = evidence::compare(history::read_run(*in, first), history::read_run(*in, second));
    const auto mind = other_subjects(first, second);
    for (const auto& sentence : mind) std::cerr << "cvrig: " << sentence << '\n';
    const side_names names{fmt::format("in run {}", first.id), fmt::format("in run {}", second.id)};
    print(a, comparison_json(first, second, c), comparison_text(c, names, output_style()));
    return status_of(c, mind.empty());
}

exit_status approve_command(const history_arguments& a) {
    // A mistyped address makes no new history.
    static_cast<void>(asked_history(a, opening::to_read));
    const auto in = asked_history(a, opening::to_write);
    const auto run = history::find_run(*in, a.run);
    const auto made = history::approve(*in, run, {utc_now(), login_name(), a.note});
    print(a, baselines_json({&made, 1}),
          fmt::format("Run {} (build {}) is now the baseline of {}, unit {}, on bench {}.\n",
                      run.id, run.build.called(), run.build.module,
                      run.unit.empty() ? "-" : run.unit, run.bench));
    return exit_status::passed;
}

exit_status baselines_command(const history_arguments& a) {
    const auto in = asked_history(a, opening::to_read);
    const auto all = history::list_baselines(*in);
    if (all.empty() && !a.json) {
        std::cout << "No run was approved yet; `cvrig baseline approve RUN` does it.\n";
        return exit_status::undecided;
    }
    print(a, baselines_json(all), baselines_text(all, output_style()));
    return exit_status::passed;
}

exit_status trend_command(const history_arguments& a) {
    const auto in = asked_history(a, opening::to_read);
    if (a.reading.empty()) {
        const auto all = history::list_demands(*in, a.which.module);
        print(a, demands_json(all), demands_text(all, output_style()));
        return all.empty() ? exit_status::undecided : exit_status::passed;
    }
    const auto of = history::latest_subject(*in, a.which);
    const auto t =
        history::read_trend(*in, history::find_demand(*in, of.module, a.reading), of, a.which.most);
    print(a, trend_json(t), trend_text(t, output_style()));
    return exit_status::passed;
}

exit_status export_command(const history_arguments& a) {
    const auto in = asked_history(a, opening::to_read);
    const auto write = [&](std::ostream& out) {
        a.format == "json" ? history::export_json(*in, a.which, out)
                           : history::export_csv(*in, a.which, out);
    };
    if (a.file.empty()) {
        write(std::cout);
        require_printed();
        return exit_status::passed;
    }
    std::ostringstream text;
    write(text);
    write_file_atomically(a.file, text.str());
    std::cerr << "Written: " << a.file << '\n';
    return exit_status::passed;
}

}  // namespace cvrig
