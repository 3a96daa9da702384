#include "rig/link/take_faults.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>

namespace cvrig {

namespace {

std::string at(std::size_t frame, sample_rate rate, std::size_t origin) {
    const std::size_t in_take = frame > origin ? frame - origin : 0;
    return fmt::format("{:.3f} s", static_cast<double>(in_take) / rate.value());
}

std::string samples(std::size_t n) {
    return fmt::format("{} {}", n, n == 1 ? "sample" : "samples");
}

bool is_fatal(const stream_event& e) {
    return e.what == stream_event::kind::starved || e.what == stream_event::kind::vanished;
}

/// What weighs most is said first: the end of the stream, then what was measured, then what the
/// driver says.
int rank(const stream_event& e) {
    if (e.what == stream_event::kind::vanished) return 0;
    if (e.what == stream_event::kind::starved) return 1;
    return e.what == stream_event::kind::gap || e.what == stream_event::kind::rate_changed ? 2 : 3;
}

/// Some drivers, such as JACK's, only know that something was late, and then say both.
bool says_the_same(const stream_event& e, const stream_event& before) {
    return e.what == stream_event::kind::overrun && before.what == stream_event::kind::underrun &&
           e.frame == before.frame;
}

}  // namespace

stream_verdict judge_events(std::span<const stream_event> events, bool simulated, sample_rate rate,
                            std::size_t origin) {
    std::vector<stream_event> told;
    for (std::size_t i = 0; i < events.size(); ++i)
        if (i == 0 || !says_the_same(events[i], events[i - 1])) told.push_back(events[i]);
    std::ranges::stable_sort(told, {}, rank);
    stream_verdict out;
    for (const auto& e : told)
        (simulated && !is_fatal(e) ? out.notes : out.problems).push_back(in_words(e, rate, origin));
    return out;
}

std::string in_words(const stream_event& e, sample_rate rate, std::size_t origin) {
    const auto when = at(e.frame, rate, origin);
    switch (e.what) {
        case stream_event::kind::underrun:
            return fmt::format("The driver reports that audio was late or lost at {}.", when);
        case stream_event::kind::overrun:
            return fmt::format("The driver reports that input was lost at {}.", when);
        case stream_event::kind::gap:
            return fmt::format("The stream stood still for {:.0f} ms at {}.", e.size * 1000.0,
                               when);
        case stream_event::kind::starved:
            return fmt::format("This computer was too slow to feed the stream at {}.", when);
        case stream_event::kind::rate_changed:
            return fmt::format("The stream ran at {:.1f} Hz instead of {:.0f} Hz.", e.size,
                               rate.value());
        case stream_event::kind::vanished:
            return fmt::format("The audio interface or its server was gone at {}.", when);
    }
    return {};
}

std::string in_words(const analysis::loop_break& b, sample_rate rate, std::size_t origin) {
    const auto when = at(b.at_sample, rate, origin);
    const auto count = static_cast<std::size_t>(std::abs(b.lost_samples));
    if (b.lost_samples > 0)
        return fmt::format("{} {} lost at {}.", samples(count), count == 1 ? "was" : "were", when);
    if (b.lost_samples < 0)
        return fmt::format("{} {} repeated or put in at {}.", samples(count),
                           count == 1 ? "was" : "were", when);
    return fmt::format("{} of the loop-back at {} {} not what was sent.",
                       samples(b.unreadable_samples), when,
                       b.unreadable_samples == 1 ? "is" : "are");
}

}  // namespace cvrig
