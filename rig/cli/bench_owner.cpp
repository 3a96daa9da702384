#include "rig/cli/bench_owner.hpp"

#include <algorithm>
#include <chrono>

#include "rig/platform/parent.hpp"
#include "rig/service/bench_ownership.hpp"

namespace cvrig {

namespace {

/// What a program that was killed has started needs to bring its outputs to 0 V and to end.
constexpr std::chrono::seconds patience{10};

bool parent_owns(const std::vector<service::claim>& claims) {
    return std::ranges::all_of(
        claims, [](const service::claim& c) { return holder_of(c.lock).pid == parent_number(); });
}

}  // namespace

std::vector<bench_lock> own_to_play(const bench& b, const std::string& what, bool owned) {
    try {
        const auto claims = service::claims_to_play(b);
        if (owned && parent_owns(claims)) return {};
        return service::own(claims, what, patience);
    } catch (const service::bench_in_use&) {
        throw;
    } catch (const user_error&) {
        return {};
    }
}

}  // namespace cvrig
