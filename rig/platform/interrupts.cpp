#include "rig/platform/interrupts.hpp"

#include <csignal>
#include <ctime>

namespace cvrig {

namespace {

sigset_t stop_signals() {
    sigset_t set;
    sigemptyset(&set);
    sigaddset(&set, SIGINT);
    sigaddset(&set, SIGTERM);
    sigaddset(&set, SIGHUP);  // its terminal was closed
    return set;
}

// Polls, since a thread in sigwait could not be told that the run is over.
void wait_for_signal(const std::stop_token& over, std::stop_source& asked) {
    const sigset_t set = stop_signals();
    const timespec moment{.tv_sec = 0, .tv_nsec = 50'000'000};
    bool was_interrupted = false;
    while (!over.stop_requested()) {
        const int signal = sigtimedwait(&set, nullptr, &moment);
        if (signal < 0) continue;
        // Only a person is impatient. The end of a starter comes as SIGTERM, once for each of its threads.
        if (signal == SIGINT && was_interrupted) {
            std::signal(SIGINT, SIG_DFL);
            pthread_sigmask(SIG_UNBLOCK, &set, nullptr);
            std::raise(SIGINT);
        }
        was_interrupted = was_interrupted || signal == SIGINT;
        asked.request_stop();
    }
}

}  // namespace

interrupts::interrupts() {
    const sigset_t set = stop_signals();
    pthread_sigmask(SIG_BLOCK, &set, nullptr);
    waiting_ =
        std::jthread{[this](const std::stop_token& over) { wait_for_signal(over, source_); }};
}

interrupts::~interrupts() {
    waiting_.request_stop();
    waiting_.join();
    const sigset_t set = stop_signals();
    pthread_sigmask(SIG_UNBLOCK, &set, nullptr);
}

}  // namespace cvrig
