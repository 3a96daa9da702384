#include <fmt/format.h>

#include <algorithm>
#include <chrono>
#include <iostream>
#include <thread>

#include "rig/calibration/bench_support.hpp"
#include "rig/calibration/calibrate.hpp"
#include "rig/calibration/calibration_report.hpp"
#include "rig/cli/asked_build.hpp"
#include "rig/cli/bench_owner.hpp"
#include "rig/cli/caution.hpp"
#include "rig/cli/commands.hpp"
#include "rig/cli/preparation.hpp"
#include "rig/cli/report_files.hpp"
#include "rig/cli/run_records.hpp"
#include "rig/cli/session.hpp"
#include "rig/platform/interrupts.hpp"

namespace cvrig {

namespace {

void require_calibration(const module_expectations& m) {
    if (!m.calibration)
        throw user_error{fmt::format(
            "{} has no section 'calibration', which says how the module is calibrated; `cvrig "
            "explain calibration` shows what it may say.",
            m.file)};
    if (std::ranges::find(m.checks, "tracking", &check_expectation::name) == m.checks.end())
        throw user_error{fmt::format(
            "{} has no check 'tracking', whose notes tell what a calibration did.", m.file)};
}

/// The stair in the first choice of settings that the check names.
run_plan stair_of(const module_expectations& m, const bench& b) {
    const auto tracking = std::ranges::find(m.checks, "tracking", &check_expectation::name);
    return plan_run(m, b, {.checks = {"tracking"}, .settings = tracking->in.front()});
}

void sleep_for(seconds time) {
    std::this_thread::sleep_for(std::chrono::duration<double>{time.value()});
}

actor_parts parts_of(const module_expectations& m, const bench& b, bench_session& session,
                     const interrupts& stop) {
    const auto token = stop.token();
    return {.module = m,
            .desk = b,
            .talks = session.talks(),
            .source = session.voltages(),
            .ask = session.asks(),
            .wait =
                [token](seconds time) {
                    const auto until = std::chrono::steady_clock::now() +
                                       std::chrono::duration<double>{time.value()};
                    while (std::chrono::steady_clock::now() < until && !token.stop_requested())
                        std::this_thread::sleep_for(std::chrono::milliseconds{5});
                },
            .wait_whole = sleep_for};
}

void require_proof(const run_result& result) {
    if (result.bench.is_empty() || result.bench.outcome() == verdict::pass) return;
    for (const auto& proof : result.bench.proofs)
        for (const auto& f : proof.findings)
            if (f.outcome != verdict::pass && !f.reason.empty())
                throw user_error{fmt::format(
                    "The bench is not proven, so nothing was calibrated: {}", f.reason)};
    throw user_error{"The bench is not proven, so nothing was calibrated; try cvrig selftest."};
}

/// How the unit tracked with the constants that it came with, and with its own.
void file_moments(const run_records& records, const run_arguments& a, const run_result& result,
                  const calibration_story& story) {
    auto about = about_run(result, story.volts_per_octave);
    about.choice = result.checks.front().choice;
    about.u_common_cents = story.u_common_cents;
    const auto file = [&](const tracking_moment& moment, const std::string& occasion,
                          constants_in_force whose) {
        auto record = about;
        record.occasion = occasion;
        record.in_force = whose;
        record.constants = moment.told;
        record.notes = moment.notes;
        records.file_one(std::move(record));
    };
    file(story.before, "before calibration", a.constants);
    file(story.after, "after calibration", constants_in_force::own);
}

}  // namespace

exit_status calibrate_command(const calibrate_arguments& asked) {
    auto a = asked.run;
    a.speaks = true;
    const auto specs = all_specs();
    const auto m = read_expectations(a.expectations, specs);
    const auto b = read_bench(a.bench);
    require_calibration(m);
    require_fit(b, m);
    a = with_build(std::move(a), b);
    require_image(a.image, b);
    require_support(b, m);
    const interrupts stop;
    const auto steps = preparing_for(a, b, m, stop);
    require_preparable(steps);
    prepare_report_folder(a.report_folder);
    const auto ours = own_to_play(b.audio ? named_as_in(a, b) : b, "cvrig calibrate");
    auto prepared = prepare(steps);
    const auto session = open_session(a, b, m, stop);
    const auto plan = session->ordered(stair_of(m, b), std::nullopt);
    auto result = describe(identity_of(a, m, b), m, b, session->description());
    result.prepared = std::move(prepared);
    const run_records records{a, plan, m, result.build_name, *session};
    if (result.unit.empty()) result.unit = records.unit();
    const auto begin = std::chrono::steady_clock::now();
    if (b.audio && !a.quiet)
        std::cerr << before_playing(session->description(),
                                    "Proving the bench and its cables, then calibrating,");
    static_cast<void>(session->early_talks());
    actor first{parts_of(m, b, *session, stop)};
    const auto left_behind = leave_what_was_begun(m, first);
    result.bench = session->prove(plan);
    require_proof(result);
    actor acts{parts_of(m, b, *session, stop)};
    auto done = calibrate({.module = m,
                           .desk = b,
                           .session = *session,
                           .stair = plan,
                           .acts = acts,
                           .say =
                               [&](const std::string& what) {
                                   if (!a.quiet) std::cerr << "  " << what << '\n';
                               },
                           .stop = stop.token(),
                           .write_best = asked.write_best});
    if (!left_behind.empty()) done.story.procedure.notes.push_back(left_behind);
    result.takes = std::move(done.takes);
    result.sound = done.sound;
    result.analysis_cpu = done.analysis_cpu;
    result.wall =
        seconds{std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count()};
    result.checks.push_back(as_check_result(done.story, m, b, plan.takes.front().choice));
    if (done.stopped) throw user_error{what_a_stop_left(done.story.procedure, *m.calibration)};
    file_moments(records, a, result, done.story);
    write_reports(a.report_folder, result);
    print_result(result, a.report_folder, a.quiet);
    return status_of(result, false);
}

}  // namespace cvrig
