#include "rig/service/bench_view.hpp"

#include <algorithm>
#include <array>
#include <string_view>
#include <utility>

namespace cvrig::service {

namespace {

using json = bench_view::json;

constexpr std::array<std::string_view, 5> steps{"building", "flashing", "proving", "playing",
                                                "judging"};

json no_progress() {
    return {{"plays", ""},     {"take", 0},        {"takes", 0},   {"attempt", 0},
            {"played_s", 0.0}, {"planned_s", 0.0}, {"left_s", 0.0}};
}

json progress_of(const json& line) {
    auto out = no_progress();
    for (const auto* key : {"plays", "take", "takes", "attempt", "played_s", "planned_s", "left_s"})
        if (line.contains(key)) out[key] = line[key];
    return out;
}

json no_trace() {
    return {{"span_s", 0.0}, {"channels", json::array()}};
}

}  // namespace

bench_view::bench_view(names who, std::function<void(const std::string&, const json&)> tell)
    : who_{std::move(who)}, tell_{std::move(tell)} {
    forget_run();
}

void bench_view::forget_run() {
    state_ = "idle";
    job_ = nullptr;
    asks_ = nullptr;
    meters_ = json::array();
    trace_ = no_trace();
    progress_ = no_progress();
}

void bench_view::begin(const job& j) {
    const std::lock_guard lock{mutex_};
    forget_run();
    state_ = "proving";
    job_ = {{"id", j.id},     {"build", j.build_name}, {"commit", j.commit},
            {"unit", j.unit}, {"image", j.image},      {"attempt", j.attempts}};
    tell_bench();
}

void bench_view::hear(const std::string& text) {
    const auto line = json::parse(text, nullptr, false);
    if (!line.is_object() || !line.contains("now") || !line["now"].is_string()) return;
    const auto now = line["now"].get<std::string>();
    const std::lock_guard lock{mutex_};
    if (now == "levels" && line.contains("meters") && line.contains("trace")) {
        meters_ = line["meters"];
        trace_ = line["trace"];
        tell_("levels", {{"meters", meters_}, {"trace", trace_}});
        return;
    }
    if (now == "asking" && line.contains("asks")) {
        asks_ = line["asks"];
        state_before_asking_ = std::exchange(state_, now);
    } else if (std::ranges::find(steps, now) != steps.end()) {
        asks_ = nullptr;
        state_ = now;
        if (now == "playing") progress_ = progress_of(line);
    } else {
        return;
    }
    tell_bench();
}

void bench_view::end() {
    const std::lock_guard lock{mutex_};
    forget_run();
    tell_bench();
    tell_("levels", {{"meters", meters_}, {"trace", trace_}});
}

void bench_view::hold(const std::string& why) {
    const std::lock_guard lock{mutex_};
    why_held_ = why;
    tell_bench();
}

bool bench_view::answered(int number) {
    const std::lock_guard lock{mutex_};
    if (!asks_.is_object() || asks_.value("number", 0) != number) return false;
    asks_ = nullptr;
    state_ = state_before_asking_;
    tell_bench();
    return true;
}

json bench_view::without_levels() const {
    json out{{"format", "cvrig service 1"},
             {"module", who_.module},
             {"bench", who_.bench},
             {"state", state_},
             {"held", !why_held_.empty()},
             {"why_held", why_held_},
             {"job", job_}};
    out.update(progress_);
    out["asks"] = asks_;
    out["rig_version"] = who_.rig_version;
    return out;
}

void bench_view::tell_bench() {
    tell_("bench", without_levels());
}

json bench_view::snapshot() const {
    const std::lock_guard lock{mutex_};
    auto out = without_levels();
    out["meters"] = meters_;
    out["trace"] = trace_;
    return out;
}

json bench_view::levels() const {
    const std::lock_guard lock{mutex_};
    return {{"meters", meters_}, {"trace", trace_}};
}

}  // namespace cvrig::service
