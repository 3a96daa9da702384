#include "rig/cli/history_options.hpp"

#include "rig/history/told_words.hpp"

namespace cvrig {

namespace {

void add_common(CLI::App& command, history_arguments& a) {
    add_history_option(command, a.address);
    command.add_flag("--json", a.json, "Print JSON instead of text");
}

void add_filter(CLI::App& command, history_arguments& a) {
    command.add_option("--module", a.which.module, "Only of this module");
    command.add_option("-u,--unit", a.which.unit, "Only of this unit");
    command.add_option("--bench", a.which.bench, "Only on the bench of this name");
}

void add_run_filter(CLI::App& command, history_arguments& a) {
    add_filter(command, a);
    command.add_option("--build", a.which.build,
                       "Only of this build: its name, version, commit or hash");
    command.add_option("--verdict", a.verdict, "Only runs that ended so")
        ->check(CLI::IsMember({"pass", "fail", "unsure", "skipped"}));
}

void add_list(CLI::App& app, history_arguments& a) {
    auto* list = app.add_subcommand("history", "List the runs that were filed, newest first");
    add_common(*list, a);
    add_run_filter(*list, a);
    list->add_option("-n,--most", a.which.most, "How many")
        ->capture_default_str()
        ->check(CLI::Range(1, 1000000));
    list->add_option("--file", a.report_folders,
                     "Report folder of a run to file first; may be given again")
        ->take_all();
}

void add_reading(CLI::App& app, history_arguments& a) {
    auto* show = app.add_subcommand("show", "Show a run with everything that was found in it");
    show->add_option("run", a.run,
                     "Its number, 'latest', or a build's name, version, commit or hash")
        ->required();
    add_common(*show, a);
    auto* compare =
        app.add_subcommand("compare", "Say which readings moved between two runs, and by how much");
    compare->add_option("a", a.run, "A run, as for `cvrig show`")->required();
    compare->add_option("b", a.other_run, "Another one")->required();
    add_common(*compare, a);
}

void add_baseline(CLI::App& app, history_arguments& a) {
    auto* baseline = app.add_subcommand(
        "baseline", "Approve the run that later builds are compared with, or list such runs");
    baseline->require_subcommand(1);
    auto* approve = baseline->add_subcommand(
        "approve", "Make a run the baseline of its module, unit and bench");
    approve->add_option("run", a.run, "A run, as for `cvrig show`")->required();
    approve->add_option("--note", a.note, "Why; must be said of a run that did not pass");
    add_common(*approve, a);
    add_common(*baseline->add_subcommand("list", "List all that were ever approved"), a);
}

void add_trend(CLI::App& app, history_arguments& a) {
    auto* trend = app.add_subcommand(
        "trend", "Follow a reading over the builds, and mark from which build on it is another");
    trend->add_option(
        "reading", a.reading,
        "Its number, or words of its name, as in \"tracking tied error\"; without it, "
        "all are listed");
    add_common(*trend, a);
    add_filter(*trend, a);
    trend->add_option("-n,--most", a.which.most, "How many runs (default: 500)")
        ->check(CLI::Range(1, 1000000));
}

void add_export(CLI::App& app, history_arguments& a) {
    auto* to = app.add_subcommand("export", "Write all findings of the runs, for other programs");
    add_history_option(*to, a.address);
    add_run_filter(*to, a);
    to->add_option("-f,--format", a.format, "csv or json")
        ->capture_default_str()
        ->check(CLI::IsMember({"csv", "json"}));
    to->add_option("-o,--output", a.file, "File to write (default: standard output)");
    to->add_option("-n,--most", a.which.most, "How many of the latest runs (default: all)")
        ->check(CLI::Range(1, 100000000));
}

}  // namespace

void add_history_option(CLI::App& command, std::string& address) {
    // Not by envname(): the parser would put the variable over what another subcommand was told.
    command.add_option(
        "--history", address,
        "Where runs are filed: a file, postgresql://USER@HOST/DATABASE, or none (default: "
        "what the variable CVRIG_HISTORY says, else cvrig/history.sqlite in the user's data "
        "folder)");
}

void add_history_commands(CLI::App& app, history_arguments& a) {
    add_list(app, a);
    add_reading(app, a);
    add_baseline(app, a);
    add_trend(app, a);
    add_export(app, a);
}

std::optional<exit_status> dispatch_history(const CLI::App& app, history_arguments& a) {
    if (!a.verdict.empty()) a.which.outcome = history::verdict_in(a.verdict);
    if (app.got_subcommand("history")) return history_command(a);
    if (app.got_subcommand("show")) return show_command(a);
    if (app.got_subcommand("compare")) return compare_command(a);
    if (app.got_subcommand("baseline"))
        return app.get_subcommand("baseline")->got_subcommand("approve") ? approve_command(a)
                                                                         : baselines_command(a);
    if (app.got_subcommand("trend")) {
        constexpr std::int64_t usual = 500;
        if (app.get_subcommand("trend")->count("--most") == 0) a.which.most = usual;
        return trend_command(a);
    }
    if (app.got_subcommand("export")) {
        constexpr std::int64_t all = 100000000;
        if (app.get_subcommand("export")->count("--most") == 0) a.which.most = all;
        return export_command(a);
    }
    return std::nullopt;
}

}  // namespace cvrig
