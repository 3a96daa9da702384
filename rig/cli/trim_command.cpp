#include <fmt/chrono.h>
#include <fmt/format.h>
#include <chrono>
#include <filesystem>
#include <iostream>

#include "rig/bench/trim_dialogue.hpp"
#include "rig/bench/trim_file.hpp"
#include "rig/cli/bench_owner.hpp"
#include "rig/cli/commands.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/platform/interrupts.hpp"

namespace cvrig {

namespace {

std::string today() {
    return fmt::format(
        "{:%Y-%m-%d}",
        fmt::gmtime(std::chrono::system_clock::to_time_t(std::chrono::system_clock::now())));
}

void require_trimmable(const bench& b) {
    if (!b.audio) throw user_error{"Only a bench with an audio link has channels to trim."};
    if (b.trim_file.empty())
        throw user_error{
            fmt::format("{} does not say where the constants are kept; add a line such as 'trim: "
                        "desk.trim.yaml'.",
                        b.file)};
}

}  // namespace

exit_status trim_command(const std::string& bench_file, const std::string& meter) {
    const trim_request what{parse_meter(meter), today(), {}};
    auto b = read_bench(bench_file);
    require_trimmable(b);
    const interrupts stop_on_signal;
    const auto ours = own_to_play(b, "cvrig trim");
    rt_audio_interface to{b};
    auto request = what;
    request.stop = stop_on_signal.token();
    auto found = trim_by_dialogue(to, b, request, std::cin, std::cout);
    // What was skipped keeps its constants, as was said.
    if (std::filesystem::exists(b.trim_file))
        found = merged(read_trim_file(b.trim_file), std::move(found));
    apply(found, b);
    write_trim_file(b.trim_file, found);
    std::cout << fmt::format("\nWritten to {}. Prove it now: cvrig selftest --bench {}\n",
                             b.trim_file, bench_file);
    return exit_status::passed;
}

}  // namespace cvrig
