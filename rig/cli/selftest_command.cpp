#include <fmt/format.h>
#include <iostream>

#include "rig/bench/self_test.hpp"
#include "rig/cli/bench_owner.hpp"
#include "rig/cli/caution.hpp"
#include "rig/cli/commands.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/terminal.hpp"

namespace cvrig {

namespace {

void require_audio(const bench& b) {
    if (!b.audio)
        throw user_error{{{b.program.where,
                           "This bench has a program for a link, which needs no self-test; give it "
                           "an audio link."}}};
}

run_result as_result(const bench& b, const audio_interface& to, const bench_proof& proof) {
    run_result out;
    out.module = "self-test";
    out.bench_name = b.name;
    out.link = to.description();
    out.bench_file = b.file;
    out.checks.push_back(as_check_result(proof));
    out.bench.cannot_exclude = proof.cannot_exclude;
    if (proof.latency)
        out.bench.facts.push_back(
            fmt::format("The round trip is {} ({:.2f} samples).",
                        show(proof.latency->value(), proof.u_latency.value(), dimension::seconds),
                        proof.latency->value() * to.rate().value()));
    return out;
}

}  // namespace

exit_status selftest_command(const std::string& bench_file) {
    const auto b = read_bench(bench_file);
    require_audio(b);
    const interrupts stop_on_signal;
    const auto ours = own_to_play(b, "cvrig selftest");
    rt_audio_interface to{b};
    std::cerr << before_playing(to.description(), "Testing the bench for some 10 s");
    const auto proof = self_test(to, b, self_test_form::thorough, {}, stop_on_signal.token());
    if (proof.stopped) throw user_error{"The self-test was stopped before it was complete."};
    std::cout << terminal_table(as_result(b, to, proof), output_style());
    if (!proof.trusted())
        std::cout << "\nThe bench is not proven; nothing that it measures may be judged.\n";
    return proof.trusted() ? exit_status::passed : exit_status::undecided;
}

}  // namespace cvrig
