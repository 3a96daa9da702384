#pragma once

#include <cstddef>
#include <span>
#include <vector>

/// A record and the sequence that was sent, prepared for following one in the other.
namespace cvrig::analysis {

/// A signal in two parts whose sum it is: `low` is its mean over 65 samples (hum, offset, drift),
/// `high` the rest.
struct split_signal {
    std::vector<float> high, low;
};

/// The mean is centred; at the ends it runs over the samples that are there, or, for a signal that
/// is known to be 0 outside, over all 65.
[[nodiscard]] split_signal split_by_mean(std::span<const float> x, bool zero_outside);

/// Length of that mean, in samples.
inline constexpr std::size_t loop_mean_samples = 65;

/// A sequence with zeros on either side, so that short filters may reach over its ends.
class padded_sequence {
public:
    static constexpr std::ptrdiff_t padding = 64;

    explicit padded_sequence(std::span<const float> x);

    /// From -padding to size() + padding.
    [[nodiscard]] const float* at(std::ptrdiff_t i) const noexcept {
        return x_.data() + (i + padding);
    }
    [[nodiscard]] std::ptrdiff_t size() const noexcept { return size_; }

private:
    std::vector<float> x_;
    std::ptrdiff_t size_;
};

/// What is known before the search begins.
struct loop_signal {
    split_signal heard;
    padded_sequence sent;       ///< as it was sent
    padded_sequence sent_high;  ///< split as the record is
    std::vector<float> sent_low;

    loop_signal(std::span<const float> record, std::span<const float> sequence);
    loop_signal(std::span<const float> record, std::span<const float> sequence,
                split_signal sequence_parts);

    [[nodiscard]] std::ptrdiff_t size() const noexcept {
        return static_cast<std::ptrdiff_t>(heard.high.size());
    }
};

}  // namespace cvrig::analysis
