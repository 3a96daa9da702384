#include "rig/link/take_faults.hpp"

#include <fmt/format.h>

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

}  // namespace

std::string in_words(const stream_event& e, sample_rate rate, std::size_t origin) {
    const auto when = at(e.frame, rate, origin);
    switch (e.what) {
        case stream_event::kind::underrun:
            return fmt::format("The driver reports that output was late at {}.", when);
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
