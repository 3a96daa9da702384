#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <functional>
#include <mutex>
#include <optional>
#include <stop_token>
#include <string>
#include <string_view>
#include <thread>
#include <vector>

#include "rig/console/operator_prompt.hpp"
#include "rig/link/exchange_feeder.hpp"
#include "rig/platform/line_input.hpp"
#include "rig/run/runner.hpp"
#include "rig/service/levels.hpp"

/// How a run tells whoever started it what it does: one JSON object a line (rig/service/API.md).
namespace cvrig::service {

/// Writes lines to a descriptor from a thread of its own, so that nobody who tells something waits
/// for a slow reader. A reader who is gone is told nothing more.
class line_writer {
public:
    explicit line_writer(int descriptor);
    line_writer(const line_writer&) = delete;
    line_writer& operator=(const line_writer&) = delete;
    /// Waits at most 2 s until everything is written.
    ~line_writer();

    void write(std::string line);
    /// Takes the place of the latest line of this kind that still waits.
    void write_latest(std::string line);

private:
    void work();

    int descriptor_;
    std::mutex mutex_;
    std::condition_variable changed_;
    std::deque<std::string> waiting_;
    std::optional<std::string> latest_;
    bool ending_{false};
    std::jthread worker_;
};

/// Tells a run's events. Every member may be called from any thread.
class run_teller {
public:
    /// `answers` is where answers to questions come from, one line each.
    explicit run_teller(int descriptor, int answers = 0);
    run_teller(const run_teller&) = delete;
    run_teller& operator=(const run_teller&) = delete;
    /// Tells the end, unless that was told: nothing was judged.
    ~run_teller();

    /// The step that begins: building, flashing, proving or judging.
    void begin(std::string_view step);
    void plays(const take_progress& p);
    /// A take that has come back as a whole.
    void heard(const take& t, const std::vector<channel_look>& like);
    void look(const levels& now);
    /// Asks for something that needs a hand, and waits for the answer, the end of the answers or a
    /// stop.
    [[nodiscard]] hand_result ask(const hand_action& action,
                                  const std::vector<std::string>& cautions,
                                  const std::stop_token& stop);
    void end(int status);

private:
    line_writer to_;
    line_input answers_;
    bool ended_{false};
    std::optional<std::chrono::steady_clock::time_point> first_take_;
};

/// A tap for an audio interface that tells levels about ten times a second. `to` must outlive it.
[[nodiscard]] exchange_tap level_tap(run_teller& to, std::vector<channel_look> channels,
                                     sample_rate rate);

}  // namespace cvrig::service
