#include <iostream>

#include "rig/cli/bench_owner.hpp"
#include "rig/cli/caution.hpp"
#include "rig/cli/commands.hpp"
#include "rig/link/play_file.hpp"
#include "rig/link/rt_audio_interface.hpp"
#include "rig/platform/interrupts.hpp"

namespace cvrig {

exit_status play_command(const play_arguments& a) {
    const auto b = read_bench(a.bench);
    if (!b.audio)
        throw user_error{std::vector{
            complaint{b.program.where,
                      "This bench has no audio interface to play through; give 'link' an "
                      "'audio', or use another bench file."}}};
    require_playable(b, volts_layout_of(b), a.stimulus);
    const interrupts stop_on_signal;
    const auto ours = own_to_play(b, "cvrig play");
    rt_audio_interface interface { b };
    if (!a.quiet) std::cerr << before_playing(interface.description(), "Playing");
    const auto done = play_file(interface, b, a.stimulus, a.response, stop_on_signal.token());
    for (const auto& note : done.notes) std::cerr << "cvrig: " << note << '\n';
    for (const auto& problem : done.problems) std::cerr << "cvrig: " << problem << '\n';
    return done.problems.empty() ? exit_status::passed : exit_status::undecided;
}

}  // namespace cvrig
