#include "analysis/loop_track.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {

namespace {

constexpr std::ptrdiff_t block_samples = 2048;
constexpr std::ptrdiff_t shortest_block = 256;
constexpr lag_range usual_lags{-2048, 30000};
constexpr lag_range all_lags{-60000, 120000};
constexpr std::ptrdiff_t farthest_jump = 50000;
constexpr std::size_t most_breaks = 1000;  // beyond which nothing more is worth knowing

// Log-likelihood of "the sequence goes on here" over "there is nothing". It climbs while the record
// follows the sequence; by the sequential probability ratio test a fall of t below its top happens
// by chance less often than once in e^t tops.
class watch {
public:
    explicit watch(std::ptrdiff_t from) : top_at_{from} {}

    [[nodiscard]] bool fell(double score, std::ptrdiff_t next_sample) noexcept {
        sum_ += score;
        if (sum_ >= top_) {
            top_ = sum_;
            top_at_ = next_sample;
        }
        return top_ - sum_ > enough;
    }
    [[nodiscard]] std::ptrdiff_t top_at() const noexcept { return top_at_; }

private:
    static constexpr double enough = 25.0;
    double sum_{0.0};
    double top_{0.0};
    std::ptrdiff_t top_at_;
};

double score(double heard, double prediction) noexcept {
    return prediction * (2.0 * heard - prediction);
}

struct record_power {
    double rest{0.0}, all{0.0};
};

record_power power_of(const loop_signal& s, const loop_stretch& where, std::span<const float> p) {
    double rest = 0.0;
    double all = 0.0;
    const float* heard = s.heard.high.data() + where.from;
    for (std::size_t n = 0; n < p.size(); ++n) {
        const double h = heard[n];
        rest += (h - static_cast<double>(p[n])) * (h - static_cast<double>(p[n]));
        all += h * h;
    }
    return {rest / static_cast<double>(p.size()), all / static_cast<double>(p.size())};
}

// Half the inverse of the noise power. A path that clips is not what its taps say, so that the
// noise is never believed to lie more than 7 dB below the record.
double likelihood_scale(const record_power& power) {
    const double believed = std::max(power.rest, 0.2 * power.all);
    return believed > 0.0 ? 0.5 / believed : 0.0;
}

// Scores of a stretch under one view; 0 where the sequence says nothing.
std::vector<double> scores(const loop_signal& s, const loop_lock& view, std::ptrdiff_t from,
                           std::ptrdiff_t to) {
    std::vector<double> out(static_cast<std::size_t>(std::max<std::ptrdiff_t>(to - from, 0)));
    const auto inside = within_sequence(s, {from, to - from, view.where.lag});
    const auto p = predicted(s, inside, view.taps);
    for (std::size_t n = 0; n < p.size(); ++n) {
        const auto at = static_cast<std::size_t>(inside.from) + n;
        out[at - static_cast<std::size_t>(from)] =
            score(static_cast<double>(s.heard.high[at]), static_cast<double>(p[n]));
    }
    return out;
}

struct break_place {
    std::ptrdiff_t last_of_old{0}, first_of_new{0};
};

// The split into "old view", "nothing", "new view" that is most likely.
break_place locate(const loop_signal& s, const loop_lock& old_view, const loop_lock& new_view,
                   std::ptrdiff_t from, std::ptrdiff_t to) {
    const auto before = scores(s, old_view, from, to);
    const auto after = scores(s, new_view, from, to);
    double remaining = 0.0;
    for (const double v : after) remaining += v;
    double sum_before = 0.0;
    double best_before = 0.0;
    double best = -INFINITY;
    std::ptrdiff_t split = from;
    break_place out{from, from};
    for (std::size_t n = 0; n <= before.size(); ++n) {
        const auto here = from + static_cast<std::ptrdiff_t>(n);
        if (sum_before > best_before) {
            best_before = sum_before;
            split = here;
        }
        if (best_before + remaining > best) {
            best = best_before + remaining;
            out = {split, here};
        }
        if (n == before.size()) break;
        sum_before += before[n];
        remaining -= after[n];
    }
    return out;
}

// Moves a lock back, block by block, until the record no longer agrees or `limit` is reached.
// Returns where the agreement begins.
std::ptrdiff_t follow_back(const loop_signal& s, loop_lock& lock, std::ptrdiff_t limit) {
    auto end = lock.where.from;
    watch falling{end};
    while (end > limit) {
        const auto from = std::max(limit, end - block_samples);
        const auto here = within_sequence(s, {from, end - from, lock.where.lag});
        if (here.samples == 0) return end;
        const auto p = predicted(s, here, lock.taps);
        const double scale = likelihood_scale(power_of(s, here, p));
        for (auto n = p.size(); n-- > 0;) {
            const auto at = here.from + static_cast<std::ptrdiff_t>(n);
            const double heard = s.heard.high[static_cast<std::size_t>(at)];
            if (falling.fell(scale * score(heard, static_cast<double>(p[n])), at))
                return falling.top_at();
        }
        if (here.samples >= shortest_block) lock.taps = improved(s, here, lock.taps, p);
        lock.where.from = end = here.from;
    }
    return limit;
}

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
    for (const auto wanted : {block_samples, block_samples / 4}) {
        const auto samples = std::min(wanted, s_.size() - from);
        if (samples < shortest_block) return std::nullopt;
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
    std::ptrdiff_t hop = block_samples / 2;
    for (std::ptrdiff_t from = 0; s_.size() - from >= shortest_block; hop += hop / 2) {
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
    if (agrees_from - begin >= shortest_block) {
        const auto from = std::max(agrees_from - block_samples, std::ptrdiff_t{0});
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
    watch falling{at_};
    for (;;) {
        const auto here = within_sequence(s_, {at_, block_samples, lock_.where.lag});
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
        if (here.samples >= shortest_block) {
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
    const auto to = std::min(agrees_from + shortest_block, s_.size());
    const auto found = locate(s_, lock_, next, from, to);
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
    std::ptrdiff_t hop = block_samples / 2;
    for (auto from = place + 1; s_.size() - from >= shortest_block; from += hop, hop += hop / 2) {
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
