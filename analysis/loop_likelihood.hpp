#pragma once

#include <cstddef>
#include <span>

#include "analysis/loop_lock.hpp"
#include "analysis/loop_signal.hpp"

/// How likely it is that a record goes on with a known sequence, sample by sample.
namespace cvrig::analysis {

/// The path is followed in blocks of this length, or of the shorter one where there is no more.
inline constexpr std::ptrdiff_t loop_block_samples = 2048;
inline constexpr std::ptrdiff_t shortest_loop_block = 256;

/// Log-likelihood of "the sequence goes on here" over "there is nothing". It climbs while the record
/// follows the sequence; by the sequential probability ratio test a fall of t below its top happens
/// by chance less often than once in e^t tops.
class likelihood_watch {
public:
    explicit likelihood_watch(std::ptrdiff_t from) : top_at_{from} {}

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

/// What one sample adds to the log-likelihood, up to likelihood_scale.
[[nodiscard]] inline double score(double heard, double prediction) noexcept {
    return prediction * (2.0 * heard - prediction);
}

struct record_power {
    double rest{0.0}, all{0.0};  ///< without the prediction, and as it is
};

[[nodiscard]] record_power power_of(const loop_signal& s, const loop_stretch& where,
                                    std::span<const float> prediction);

/// Half the inverse of the noise power.
[[nodiscard]] double likelihood_scale(const record_power& power);

struct break_place {
    std::ptrdiff_t last_of_old{0}, first_of_new{0};
};

/// The split into "old view", "nothing", "new view" that is most likely.
[[nodiscard]] break_place locate_break(const loop_signal& s, const loop_lock& old_view,
                                       const loop_lock& new_view, std::ptrdiff_t from,
                                       std::ptrdiff_t to);

/// Moves a lock back, block by block, until the record no longer agrees or `limit` is reached.
/// Returns where the agreement begins.
[[nodiscard]] std::ptrdiff_t follow_back(const loop_signal& s, loop_lock& lock,
                                         std::ptrdiff_t limit);

}  // namespace cvrig::analysis
