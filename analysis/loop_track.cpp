#include "analysis/loop_track.hpp"

#include <algorithm>
#include <cmath>

#include "analysis/loop_likelihood.hpp"

namespace cvrig::analysis {

namespace {

constexpr lag_range usual_lags{-2048, 30000};
constexpr lag_range all_lags{-60000, 120000};
constexpr std::ptrdiff_t farthest_jump = 50000;
constexpr std::size_t most_breaks = 1000;  // beyond which nothing more is worth knowing

class follower {
public:
    explicit follower(const loop_signal& s) : s_{s} {}

    outcome<loop_track> run() {
        if (!find_first()) return refuse(refusal::no_fit);
        go_to_beginning();
        while (follow_to_break() && out_.breaks.size() < most_breaks && go_on_after(alarm_at_)) {
        }
        note_missing_end();
        finish_noise();
        return std::move(out_);
    }

private:
    bool find_first();
    void go_to_beginning();
    bool follow_to_break();
    bool go_on_after(std::ptrdiff_t place);
    std::optional<loop_lock> lock_from(std::ptrdiff_t from, std::ptrdiff_t likely_lag,
                                       const lag_range& lags);
    void note_break(std::ptrdiff_t place, loop_lock next);
    void measure(const loop_stretch& where, const loop_taps& h, std::span<const float> prediction);
    void recentre();
    void note_missing_end();
    void finish_noise();
    [[nodiscard]] double drift() const;

    const loop_signal& s_;
    loop_track out_;
    loop_lock lock_;
    std::ptrdiff_t at_{0};
    std::ptrdiff_t alarm_at_{0};
    std::ptrdiff_t lost_{0};
    std::optional<std::ptrdiff_t> hint_;
    double rest_sum_{0.0}, rest_squares_{0.0}, rest_count_{0.0};
};

std::optional<loop_lock> follower::lock_from(std::ptrdiff_t from, std::ptrdiff_t likely_lag,
                                             const lag_range& lags) {
    for (const auto wanted : {loop_block_samples, loop_block_samples / 4}) {
        const auto samples = std::min(wanted, s_.size() - from);
        if (samples < shortest_loop_block) return std::nullopt;
        if (auto lock = lock_near(s_, {from, samples, likely_lag})) return lock;
        if (hint_)
            if (auto lock = lock_near(s_, {from, samples, *hint_})) return lock;
        auto found = search_lock(s_, {from, samples, 0}, lags);
        if (found.best_lag) hint_ = found.best_lag;
        if (found.lock) return found.lock;
        // A shorter look only helps where the sequence is about to end.
        if (from + farthest_jump < s_.sent.size() + likely_lag) return std::nullopt;
    }
    return std::nullopt;
}

bool follower::find_first() {
    std::ptrdiff_t hop = loop_block_samples / 2;
    for (std::ptrdiff_t from = 0; s_.size() - from >= shortest_loop_block; hop += hop / 2) {
        for (const auto& lags : {usual_lags, all_lags}) {
            if (auto lock = lock_from(from, hint_.value_or(0), lags)) {
                lock_ = *lock;
                return true;
            }
            if (hint_) break;
        }
        from += hop;
        if (hint_ && *hint_ > from) from = *hint_;
    }
    return false;
}

void follower::go_to_beginning() {
    const auto begin = std::max(lock_.where.lag, std::ptrdiff_t{0});
    auto agrees_from = follow_back(s_, lock_, begin);
    if (agrees_from - begin >= shortest_loop_block) {
        const auto from = std::max(agrees_from - loop_block_samples, std::ptrdiff_t{0});
        const auto samples = agrees_from - 8 - from;
        const lag_range lags{lock_.where.lag - farthest_jump, lock_.where.lag + farthest_jump};
        if (auto earlier = search_lock(s_, {from, samples, 0}, lags).lock) {
            lock_ = *earlier;
            agrees_from = follow_back(s_, lock_, std::max(lock_.where.lag, std::ptrdiff_t{0}));
        }
    }
    const auto first = std::max(lock_.where.lag, std::ptrdiff_t{0});
    if (agrees_from > first)
        out_.breaks.push_back(
            {static_cast<std::size_t>(first), 0, static_cast<std::size_t>(agrees_from - first)});
    out_.first_sample = first;
    at_ = agrees_from;
}

void follower::recentre() {
    const auto shift = largest_tap(lock_.taps);
    if (std::abs(shift) < 2) return;
    lock_.where.lag += shift;
    lock_.taps = shifted(lock_.taps, shift);
}

void follower::measure(const loop_stretch& where, const loop_taps& h,
                       std::span<const float> prediction) {
    const auto path = path_of(h);
    const double samples = static_cast<double>(where.samples);
    const double tap_noise = std::sqrt(power_of(s_, where, prediction).rest / samples);
    out_.blocks.push_back(
        {.centre_sample = static_cast<double>(where.from) + samples / 2,
         .latency_samples = static_cast<double>(where.lag + lost_) + path.delay_samples,
         .gain = path.gain,
         .u_latency = path.delay_per_noise * tap_noise,
         .u_gain = path.gain_per_noise * tap_noise,
         .samples = samples});
    for (std::ptrdiff_t n = 0; n < where.samples; ++n) {
        const auto at = where.from + n;
        const auto sent = at - where.lag;
        const double slow = sent >= 0 && sent < s_.sent.size()
                                ? static_cast<double>(s_.sent_low[static_cast<std::size_t>(sent)])
                                : 0.0;
        const auto i = static_cast<std::size_t>(at);
        const double rest = static_cast<double>(s_.heard.high[i]) -
                            static_cast<double>(prediction[static_cast<std::size_t>(n)]) +
                            static_cast<double>(s_.heard.low[i]) - path.gain * slow;
        rest_sum_ += rest;
        rest_squares_ += rest * rest;
    }
    rest_count_ += samples;
}

// True at a break, whose place is then in alarm_at_; false at the end.
bool follower::follow_to_break() {
    likelihood_watch falling{at_};
    for (;;) {
        const auto here = within_sequence(s_, {at_, loop_block_samples, lock_.where.lag});
        if (here.samples == 0) return false;
        auto p = predicted(s_, here, lock_.taps);
        const double scale = likelihood_scale(power_of(s_, here, p));
        for (std::size_t n = 0; n < p.size(); ++n) {
            const auto at = here.from + static_cast<std::ptrdiff_t>(n);
            const double heard = s_.heard.high[static_cast<std::size_t>(at)];
            if (falling.fell(scale * score(heard, static_cast<double>(p[n])), at + 1)) {
                alarm_at_ = falling.top_at();
                return true;
            }
        }
        if (here.samples >= shortest_loop_block) {
            lock_.taps = improved(s_, here, lock_.taps, p);
            measure(here, lock_.taps, p);
        }
        at_ = here.from + here.samples;
        recentre();
    }
}

// Samples a sample, so far; a long gap would else be taken for lost samples.
double follower::drift() const {
    constexpr std::size_t enough = 8;
    if (out_.blocks.size() < enough) return 0.0;
    const auto& a = out_.blocks.front();
    const auto& b = out_.blocks.back();
    return (b.latency_samples - a.latency_samples) / (b.centre_sample - a.centre_sample);
}

void follower::note_break(std::ptrdiff_t place, loop_lock next) {
    const auto from = std::max(place - 64, std::ptrdiff_t{0});
    const auto agrees_from = follow_back(s_, next, place);
    const auto to = std::min(agrees_from + shortest_loop_block, s_.size());
    const auto found = locate_break(s_, lock_, next, from, to);
    const double before = static_cast<double>(lock_.where.lag) + path_of(lock_.taps).delay_samples +
                          drift() * static_cast<double>(next.where.from - place);
    const double after = static_cast<double>(next.where.lag) + path_of(next.taps).delay_samples;
    const auto lost = static_cast<std::ptrdiff_t>(std::lround(before - after));
    lost_ += lost;
    out_.breaks.push_back({static_cast<std::size_t>(found.last_of_old), lost,
                           static_cast<std::size_t>(found.first_of_new - found.last_of_old)});
    at_ = std::max(found.first_of_new, place + 1);
    lock_ = next;
}

bool follower::go_on_after(std::ptrdiff_t place) {
    hint_.reset();
    const auto lag = lock_.where.lag;
    std::ptrdiff_t hop = loop_block_samples / 2;
    for (auto from = place + 1; s_.size() - from >= shortest_loop_block;
         from += hop, hop += hop / 2) {
        if (auto next = lock_from(from, lag, {lag - farthest_jump, lag + farthest_jump})) {
            note_break(place, *next);
            return true;
        }
    }
    const auto end = std::min(s_.size(), s_.sent.size() + lag);
    if (end > place)
        out_.breaks.push_back(
            {static_cast<std::size_t>(place), 0, static_cast<std::size_t>(end - place)});
    return false;
}

// A record that stops before the sequence does.
void follower::note_missing_end() {
    const auto missing = s_.sent.size() + lock_.where.lag - s_.size();
    if (missing > 0) out_.breaks.push_back({static_cast<std::size_t>(s_.size()), missing, 0});
}

void follower::finish_noise() {
    if (rest_count_ == 0.0) return;
    out_.offset = rest_sum_ / rest_count_;
    out_.noise_power = std::max(rest_squares_ / rest_count_ - out_.offset * out_.offset, 0.0);
}

}  // namespace

outcome<loop_track> follow_loop(const loop_signal& s) {
    return follower{s}.run();
}

}  // namespace cvrig::analysis
