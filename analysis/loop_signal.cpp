#include "analysis/loop_signal.hpp"

#include <algorithm>
#include <utility>

namespace cvrig::analysis {

split_signal split_by_mean(std::span<const float> x, bool zero_outside) {
    constexpr std::size_t half = loop_mean_samples / 2;
    split_signal out{std::vector<float>(x.size()), std::vector<float>(x.size())};
    double sum = 0.0;
    for (std::size_t n = 0; n < std::min(half, x.size()); ++n) sum += x[n];
    for (std::size_t n = 0; n < x.size(); ++n) {
        if (n + half < x.size()) sum += x[n + half];
        if (n > half) sum -= x[n - half - 1];
        const auto there = std::min(n + half + 1, x.size()) - (n > half ? n - half : 0);
        const auto low = sum / static_cast<double>(zero_outside ? loop_mean_samples : there);
        out.low[n] = static_cast<float>(low);
        out.high[n] = static_cast<float>(x[n] - low);
    }
    return out;
}

padded_sequence::padded_sequence(std::span<const float> x)
    : x_(x.size() + 2 * padding, 0.0F), size_{static_cast<std::ptrdiff_t>(x.size())} {
    std::ranges::copy(x, x_.begin() + padding);
}

loop_signal::loop_signal(std::span<const float> record, std::span<const float> sequence)
    : loop_signal{record, sequence, split_by_mean(sequence, true)} {}

loop_signal::loop_signal(std::span<const float> record, std::span<const float> sequence,
                         split_signal sequence_parts)
    : heard{split_by_mean(record, false)},
      sent{sequence},
      sent_high{sequence_parts.high},
      sent_low{std::move(sequence_parts.low)} {}

}  // namespace cvrig::analysis
