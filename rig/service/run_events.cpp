#include "rig/service/run_events.hpp"

#include <fmt/format.h>

#include <array>
#include <cmath>
#include <memory>
#include <nlohmann/json.hpp>
#include <utility>

namespace cvrig::service {

namespace {

using json = nlohmann::ordered_json;
using namespace std::chrono_literals;

constexpr auto patience = 2s;

/// To a tenth of a millivolt, which no screen shows.
double rounded(double volts) {
    return std::isfinite(volts) ? std::round(volts * 1e4) / 1e4 : 0.0;
}

json rounded_all(const std::vector<float>& all) {
    json out = json::array();
    for (const float v : all) out.push_back(rounded(static_cast<double>(v)));
    return out;
}

std::string_view word(way goes) {
    return goes == way::out ? "out" : "in";
}

json line_of(const levels& now) {
    json meters = json::array();
    json channels = json::array();
    for (const auto& c : now.channels) {
        meters.push_back({{"jack", c.jack},
                          {"way", word(c.goes)},
                          {"peak_v", rounded(c.peak_v)},
                          {"rms_v", rounded(c.rms_v)},
                          {"full_v", rounded(c.full_v)}});
        channels.push_back({{"jack", c.jack},
                            {"way", word(c.goes)},
                            {"low", rounded_all(c.low)},
                            {"high", rounded_all(c.high)}});
    }
    return {{"now", "levels"},
            {"meters", meters},
            {"trace", {{"span_s", now.span.value()}, {"channels", channels}}}};
}

std::string text_of(const json& line) {
    return line.dump(-1, ' ', false, json::error_handler_t::replace) + "\n";
}

std::string what_plays(const take_progress& p) {
    std::string checks;
    for (const auto& name : p.checks) checks += (checks.empty() ? "" : ", ") + name;
    const auto choice = in_words(p.choice);
    return choice.empty() ? checks : fmt::format("{} ({})", checks, choice);
}

/// A program plays faster than its sound lasts, a bench not: the finished takes tell the pace.
double left_s(const take_progress& p, std::chrono::duration<double> since_first) {
    const double left = std::max(0.0, (p.planned - p.played).value());
    return p.played.value() > 0.0 ? left * since_first.count() / p.played.value() : left;
}

}  // namespace

line_writer::line_writer(int descriptor) : descriptor_{descriptor}, worker_{[this] { work(); }} {}

line_writer::~line_writer() {
    {
        const std::lock_guard lock{mutex_};
        ending_ = true;
    }
    changed_.notify_all();
}

void line_writer::write(std::string line) {
    {
        const std::lock_guard lock{mutex_};
        if (latest_) waiting_.push_back(*std::exchange(latest_, std::nullopt));
        waiting_.push_back(std::move(line));
    }
    changed_.notify_all();
}

void line_writer::write_latest(std::string line) {
    {
        const std::lock_guard lock{mutex_};
        latest_ = std::move(line);
    }
    changed_.notify_all();
}

void line_writer::work() {
    std::unique_lock lock{mutex_};
    for (;;) {
        changed_.wait(lock, [this] { return ending_ || latest_ || !waiting_.empty(); });
        std::string next;
        if (!waiting_.empty()) {
            next = std::move(waiting_.front());
            waiting_.pop_front();
        } else if (latest_) {
            next = *std::exchange(latest_, std::nullopt);
        } else {
            return;
        }
        lock.unlock();
        const bool is_read = write_line(descriptor_, next, patience);
        lock.lock();
        if (!is_read && ending_) return;
    }
}

run_teller::run_teller(int descriptor, int answers) : to_{descriptor}, answers_{answers} {}

run_teller::~run_teller() {
    constexpr int nothing_judged = 2;
    if (!ended_) end(nothing_judged);
}

void run_teller::begin(std::string_view step) {
    to_.write(text_of({{"now", step}}));
}

void run_teller::plays(const take_progress& p) {
    const auto now = std::chrono::steady_clock::now();
    if (!first_take_) first_take_ = now;
    to_.write(text_of({{"now", "playing"},
                       {"plays", what_plays(p)},
                       {"take", p.take},
                       {"takes", p.takes},
                       {"attempt", p.attempt},
                       {"played_s", p.played.value()},
                       {"planned_s", p.planned.value()},
                       {"left_s", left_s(p, now - *first_take_)}}));
}

void run_teller::heard(const take& t, const std::vector<channel_look>& like) {
    look(levels_of(t, like));
}

void run_teller::look(const levels& now) {
    to_.write_latest(text_of(line_of(now)));
}

hand_result run_teller::ask(const hand_action& action, const std::vector<std::string>& cautions,
                            const std::stop_token& stop) {
    using what = hand_result::what;
    to_.write(text_of({{"now", "asking"},
                       {"asks",
                        {{"number", action.number},
                         {"of", action.of},
                         {"instruction", action.instruction},
                         {"cautions", cautions}}}}));
    for (;;) {
        const auto said = answers_.next(stop);
        if (said.how == typed_line::end::stopped)
            return {what::aborted, "The run was stopped while it waited for the operator."};
        if (said.how == typed_line::end::closed)
            return {what::aborted, "Nobody was left to ask for what needs a hand on the module."};
        if (said.text == "done") return {what::done, {}};
        if (said.text == "skip")
            return {what::skipped, fmt::format("The operator skipped it: {}.", action.instruction)};
        if (said.text == "end") return {what::aborted, "The operator ended the run."};
    }
}

void run_teller::end(int status) {
    ended_ = true;
    to_.write(text_of({{"now", "ended"}, {"status", status}}));
}

exchange_tap level_tap(run_teller& to, std::vector<channel_look> channels, sample_rate rate) {
    static constexpr auto pause = 100ms;
    struct state {
        rolling_levels rolling;
        std::chrono::steady_clock::time_point told{};
    };
    auto now = std::make_shared<state>(state{{std::move(channels), rate}});
    return [now, &to](const tapped_block& block) {
        now->rolling.add(block.sent, block.heard);
        const auto at = std::chrono::steady_clock::now();
        if (at - now->told < pause) return;
        now->told = at;
        to.look(now->rolling.look());
    };
}

}  // namespace cvrig::service
