#include "rig/console/drain_errors.hpp"

namespace cvrig {

void drain_errors(console& talks, const std::optional<console_rules>& rules) {
    if (!rules || !rules->no_error) return;
    constexpr int most = 10;
    for (int i = 0; i < most && !talks.ask(*rules->no_error).ok; ++i) {
    }
}

}  // namespace cvrig
