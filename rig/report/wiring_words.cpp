#include "rig/report/wiring_words.hpp"

#include <fmt/format.h>

namespace cvrig::report {

std::string wiring_title(const wiring_card& card) {
    return fmt::format("{} at bench {}", card.module, card.bench);
}

std::string from_in_words(const wire& w) {
    return w.what == wire::kind::listen ? "jack " + w.from : w.from;
}

std::string to_in_words(const wire& w) {
    if (w.what == wire::kind::drive) return "jack " + w.to;
    return w.what == wire::kind::console ? "the module's console" : w.to;
}

std::string in_words(const wire& w) {
    return fmt::format("{} to {}, {}", from_in_words(w), to_in_words(w), w.carries);
}

}  // namespace cvrig::report
