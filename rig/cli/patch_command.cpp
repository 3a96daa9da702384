// Before the names of the stimulus, which hide an enumerator of it.
#include "rig/link/interface.hpp"

#include <fmt/format.h>
#include <iostream>
#include <memory>

#include "rig/checks/check.hpp"
#include "rig/cli/bench_owner.hpp"
#include "rig/cli/caution.hpp"
#include "rig/cli/commands.hpp"
#include "rig/console/console.hpp"
#include "rig/console/fill_in.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/patch_text.hpp"
#include "rig/run/patch_check.hpp"

namespace cvrig {

namespace {

std::unique_ptr<console> console_for(const patch_arguments& a, const bench& b,
                                     const module_expectations& m, const std::stop_token& stop) {
    if (!b.console || !m.console) return nullptr;
    return open_console(filled_in(*b.console, a.with), *m.console, stop);
}

// The question for errors is answered only when the line before it has been obeyed.
bool tell(console& to_module, const console_rules& rules, const std::string& line) {
    const auto sent = to_module.ask({.send = line, .expect = std::nullopt, .where = {}});
    return sent.ok && (!rules.no_error || to_module.ask(*rules.no_error).ok);
}

}  // namespace

exit_status patch_command(const patch_arguments& a) {
    const auto m = read_expectations(a.expectations, all_specs());
    const auto b = read_bench(a.bench);
    if (auto wrong = mismatches(b, m); !wrong.empty()) throw user_error{std::move(wrong)};
    if (!b.audio)
        throw user_error{fmt::format(
            "Bench {} plays into a program, so it has no cables to check; name a bench file whose "
            "link is an audio interface.",
            b.name)};
    const interrupts stop_on_signal;
    auto named = b;
    if (named.console) named.console = filled_in(*named.console, a.with);
    const auto ours = own_to_play(named, "cvrig patch");
    const auto to_module = console_for(a, b, m, stop_on_signal.token());
    rt_audio_interface desk{b};
    patch_options options{.stop = stop_on_signal.token()};
    if (to_module != nullptr)
        options.tell = [&](const std::string& line) { return tell(*to_module, *m.console, line); };
    std::cerr << before_playing(desk.description(), "Playing each output in turn");
    const auto result = check_patch(desk, b, m, options);
    std::cout << patch_text(result, b, output_style());
    return result.as_wired ? exit_status::passed : exit_status::undecided;
}

}  // namespace cvrig
