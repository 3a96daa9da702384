#include "rig/platform/last_act.hpp"

#include <atomic>
#include <cstdlib>
#include <exception>
#include <utility>

namespace cvrig {

namespace {

// The terminate handler is a plain function, so what it finds must be global.
std::atomic<last_act*> latest{nullptr};
std::atomic<std::terminate_handler> handler_before{nullptr};

}  // namespace

last_act::last_act(std::function<void()> act) : act_{std::move(act)}, before_{latest.load()} {
    if (before_ == nullptr) handler_before = std::set_terminate(&last_act::run_all);
    latest = this;
}

last_act::~last_act() {
    latest = before_;
    if (before_ == nullptr) std::set_terminate(handler_before.load());
}

void last_act::run_all() noexcept {
    // Taken away first: a second exception inside must not begin all over.
    for (last_act* a = latest.exchange(nullptr); a != nullptr; a = a->before_) a->act_();
    if (const auto before = handler_before.load()) before();
    std::abort();
}

}  // namespace cvrig
