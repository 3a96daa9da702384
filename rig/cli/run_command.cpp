#include <fmt/format.h>
#include <spdlog/sinks/basic_file_sink.h>
#include <spdlog/spdlog.h>
#include <chrono>
#include <filesystem>
#include <iostream>

#include "rig/bench/wiring.hpp"
#include "rig/cli/asked_build.hpp"
#include "rig/cli/baseline_for.hpp"
#include "rig/cli/bench_owner.hpp"
#include "rig/cli/caution.hpp"
#include "rig/cli/commands.hpp"
#include "rig/cli/describe_run.hpp"
#include "rig/cli/file_in_history.hpp"
#include "rig/cli/preparation.hpp"
#include "rig/cli/report_files.hpp"
#include "rig/cli/run_follower.hpp"
#include "rig/cli/run_records.hpp"
#include "rig/cli/session.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/progress.hpp"
#include "rig/report/wiring_svg.hpp"
#include "rig/run/by_facts.hpp"
#include "rig/run/console_watch.hpp"
#include "rig/run/kept_facts.hpp"
#include "rig/run/kept_run.hpp"
#include "rig/run/kept_takes.hpp"
#include "rig/run/runner.hpp"
#include "rig/run/unproven_jacks.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

std::shared_ptr<spdlog::sinks::sink> log_file(const fs::path& file) {
    try {
        return std::make_shared<spdlog::sinks::basic_file_sink_mt>(file.string(), true);
    } catch (const spdlog::spdlog_ex&) {
        throw user_error{fmt::format(
            "The log {} cannot be written; choose another folder with --report.", file.string())};
    }
}

std::shared_ptr<spdlog::logger> open_log(const fs::path& folder) {
    auto sink = log_file(folder / "run.log");
    auto log = std::make_shared<spdlog::logger>("run", std::move(sink));
    log->set_pattern("%Y-%m-%dT%H:%M:%S.%e %l %v");
    // A run that is killed leaves what it knew.
    log->flush_on(spdlog::level::info);
    return log;
}

void log_take(spdlog::logger& log, const take& t) {
    log.info("take {} ({}), attempt {}: {} channels back", t.number, in_words(t.choice), t.attempt,
             t.heard.size());
    for (const auto& problem : t.problems) log.warn("take {}: {}", t.number, problem);
    if (!t.log.empty()) log.info("take {}: the module's program said: {}", t.number, t.log);
}

void log_bench(spdlog::logger& log, const bench_account& account) {
    for (const auto& proof : account.proofs)
        for (const auto& f : proof.findings)
            log.info("bench, {}, {}: {} {}", proof.check, f.name, in_words(f.outcome), f.reason);
    for (const auto& fact : account.facts) log.info("bench: {}", fact);
    for (const auto& line : account.cannot_exclude) log.info("bench cannot exclude: {}", line);
}

void log_result(spdlog::logger& log, const run_result& r) {
    for (const auto& check : r.checks)
        for (const auto& f : check.findings)
            log.info("{} ({}), {}: {} {}", f.check, in_words(f.choice), f.name, in_words(f.outcome),
                     f.reason);
    for (const auto& check : r.checks)
        if (check.likeliest)
            log.info("{} ({}), likeliest cause: {}", check.check, in_words(check.choice),
                     check.likeliest->sentence);
}

// Keeps the files and what was asked beside the takes, so that the folder can be judged again by itself.
void keep_files(const run_arguments& a, const run_identity& who, const bench& b,
                std::vector<baseline_reading> baseline, const fs::path& folder) {
    keep_run(folder,
             {a.filter, who.unit, who.build_name, who.build_sha256, who.build_commit,
              who.build_version, who.build_size_bytes, std::move(baseline)},
             b);
    fs::copy_file(a.expectations, folder / "expectations.yaml",
                  fs::copy_options::overwrite_existing);
    fs::copy_file(a.bench, folder / "bench.yaml", fs::copy_options::overwrite_existing);
}

/// A commit must not be called bad by a sound that may be another's.
void require_proven_for_bisection(const run_arguments& a, const preparation& done) {
    if (a.bisect && !done.doubt.empty())
        throw user_error{fmt::format(
            "{} With --bisect nothing is judged then; have the console tell its identity, and the "
            "image hold its version.",
            done.doubt)};
}

/// Builds and flashes, where the bench does; why that did not work goes to the log, too.
preparation prepared_build(const run_arguments& a, const bench& b, const module_expectations& m,
                           const interrupts& stop, spdlog::logger& log, run_follower& follower) {
    auto steps = preparing_for(a, b, m, stop, &log);
    steps.begins = [&follower, tell = steps.begins](const std::string& step,
                                                    const std::string& command) {
        tell(step, command);
        follower.begin(step == "build" ? "building" : "flashing");
    };
    try {
        auto done = prepare(steps);
        for (const auto& fact : done.facts) log.info("{}", fact);
        require_proven_for_bisection(a, done);
        return done;
    } catch (const user_error& e) {
        log.error("{}", e.what());
        throw;
    }
}

/// The settings that are the same in all takes: nobody who waits need read them.
setting_choice same_in_all(const run_plan& plan) {
    std::vector<setting_choice> choices;
    for (const auto& t : plan.takes) choices.push_back(t.choice);
    return throughout(choices);
}

std::string what_plays(const take_progress& p) {
    const auto choice = in_words(p.choice);
    return p.attempt > 1 ? fmt::format("{}, retake {}", choice, p.attempt - 1) : choice;
}

run_outcome play(const run_arguments& a, const run_plan& plan, bench_session& session,
                 const module_expectations& m, const bench& b, spdlog::logger& log,
                 std::stop_token stop, console_watch* asks, run_follower& follower) {
    progress_line line{std::cerr, error_style(), error_is_terminal()};
    run_watch watch;
    watch.stop = std::move(stop);
    watch.order = [&](run_plan again, const setting_choice& now) {
        return session.ordered(std::move(again), now);
    };
    watch.progress = [&, shared = same_in_all(plan)](take_progress p) {
        log.info("playing take {} of {}: {}", p.take, p.takes, in_words(p.choice));
        p.choice = without(std::move(p.choice), shared);
        follower.plays(p);
        if (!a.quiet)
            line.show({.take = p.take,
                       .takes = p.takes,
                       .left = p.planned - p.played,
                       .whole = p.planned,
                       .plays = what_plays(p)});
    };
    watch.taken = [&](const take& t) {
        log_take(log, t);
        follower.heard(t);
        if (a.keep_takes) keep_take(a.report_folder, t);
        if (asks != nullptr) asks->look();
    };
    auto outcome = run(plan, session.to_module(), m, b, watch);
    line.clear();
    return outcome;
}

outside_facts facts_before(const run_arguments& a) {
    outside_facts facts;
    facts.build_name = a.build_name;
    if (!a.image.empty()) facts.image = facts_of_image(a.image);
    return facts;
}

/// The questions for the check "console", begun; none where nothing asks for them, where there is no
/// console, or where it is not proven to be the module's.
std::optional<console_watch> watch_of(bench_session& session, const run_plan& plan,
                                      const bench_account& proven, const console_rules& rules,
                                      outside_facts& facts) {
    if (!judges_by_facts(plan, "console") || session.talks() == nullptr) return std::nullopt;
    if (!proven.is_empty() && proven.outcome() != verdict::pass) {
        facts.no_console = "The bench is not proven, so its console was not asked.";
        return std::nullopt;
    }
    std::optional<console_watch> asks;
    asks.emplace(*session.talks(), rules);
    asks->begin();
    return asks;
}

/// Files the run, and says so; what went wrong with it is said in any case.
void tell_filed(run_filing& history, const run_arguments& a) {
    const auto told = history.file(a.report_folder);
    if (!told.trouble.empty()) std::cerr << "cvrig: " << told.trouble << '\n';
    if (!told.place.empty() && !a.quiet) std::cout << told.place << '\n';
}

}  // namespace

exit_status run_command(const run_arguments& asked) {
    const auto specs = all_specs();
    const auto as_said = read_expectations(asked.expectations, specs);
    auto b = read_bench(asked.bench);
    // The daemon has found an image that is to be judged as it is.
    if (asked.owned) b.build.reset();
    run_filing history{asked.history};
    if (!history.trouble().empty() && follows_baseline(as_said) && asked.baseline.empty())
        std::cerr << "cvrig: " << history.trouble()
                  << " What follows a baseline will be skipped.\n";
    // What cannot be judged is refused before anything is built. A unit that only its console names may follow
    // another baseline.
    const auto foreseen =
        with_baseline(as_said, baseline_for(asked, as_said, asked.unit, b.name, history.store()));
    const auto a = with_build(asked, b);
    require_fit(b, foreseen);
    require_image(a.image, b);
    const auto foreseen_plan = plan_run(foreseen, b, a.filter);
    const interrupts stop;
    require_preparable(preparing_for(a, b, foreseen, stop));
    run_follower follower{a, b, stop};
    const auto ours = own_to_play(b.audio ? named_as_in(a, b) : b, "cvrig run", a.owned);
    prepare_report_folder(a.report_folder);
    if (a.keep_takes) forget_kept(a.report_folder);
    const auto log = open_log(a.report_folder);
    auto prepared = prepared_build(a, b, foreseen, stop, *log, follower);
    auto who = identity_of(a, foreseen, b);

    const auto rules = foreseen.console.value_or(console_rules{});
    const auto session = open_session(a, b, foreseen, stop, follower.for_session());
    const run_records records{a, foreseen_plan, foreseen, who.build_name, *session};
    if (who.unit.empty()) who.unit = records.unit();
    const auto baseline = baseline_for(a, as_said, who.unit, b.name, history.store());
    const auto m = with_baseline(as_said, baseline);
    if (a.keep_takes) keep_files(a, who, b, followed(m, baseline), a.report_folder);
    const auto plan = session->ordered(plan_run(m, b, a.filter), std::nullopt);
    auto result = describe(who, m, b, session->description());
    result.is_partial = !a.filter.checks.empty() || !a.filter.settings.empty();
    result.prepared = std::move(prepared);
    const auto begin = std::chrono::steady_clock::now();
    if (b.audio && !a.quiet)
        std::cerr << before_playing(session->description(),
                                    "Proving the bench and its cables, then judging,");
    follower.begin("proving");
    result.bench = session->prove(plan);
    if (b.audio) result.bench.wiring_picture = wiring_svg(wiring_of(named_as_in(a, b), m));
    log_bench(*log, result.bench);
    auto facts = facts_before(a);
    auto asks = watch_of(*session, plan, result.bench, rules, facts);
    auto outcome =
        play(a, plan, *session, m, b, *log, stop.token(), asks ? &*asks : nullptr, follower);
    follower.begin("judging");
    if (asks) facts.console = asks->finish();
    if (a.keep_takes && !plan.by_facts.empty()) keep_facts(a.report_folder, facts);
    add_by_facts(outcome.checks, plan, facts, m, b);
    doubt_failures(outcome.checks, plan, session->unproven_jacks());
    // A stop in the last take leaves no take for the runner to leave out.
    const bool stopped = outcome.stopped || stop.token().stop_requested();
    fill(result, std::move(outcome), m,
         seconds{std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count()});
    log_result(*log, result);
    if (stopped)
        throw user_error{"The run was stopped before it was complete; no report was written."};
    write_reports(a.report_folder, result);
    const auto filed = records.file(result, m);
    print_result(result, a.report_folder, a.quiet);
    if (!a.quiet)
        for (const auto& file : filed) std::cout << "Filed: " << file.string() << '\n';
    // The daemon that owns the bench files it, together with what becomes of its job.
    if (!a.owned) tell_filed(history, a);
    return follower.ended(status_of(result, a.bisect));
}

}  // namespace cvrig
