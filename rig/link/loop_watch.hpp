#pragma once

#include <optional>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"

namespace cvrig {

/// Follows the loop-back of a long take piece by piece, in constant memory.
class loop_watch {
public:
    loop_watch(const loop_back& loop, sample_rate rate, std::size_t frames_to_send);

    /// What the loop-back has to send from frame `first` on, in volts.
    void fill(std::size_t first, std::vector<float>& to) const;
    /// The next part of what came back.
    void hear(const std::vector<float>& from);
    /// No more comes back: judges the last piece.
    void finish();

    /// Of the first piece, as soon as that has been heard.
    [[nodiscard]] std::optional<double> latency_samples() const noexcept { return latency_; }
    /// True once latency_samples() will not come any more, or has come.
    [[nodiscard]] bool has_begun() const noexcept { return pieces_ > 0; }
    /// One sentence for each place that is not whole; the first hundred.
    [[nodiscard]] const std::vector<std::string>& problems() const noexcept { return problems_; }

private:
    void judge(std::size_t frames);
    void complain(std::string sentence);

    double level_volts_;
    sample_rate rate_;
    std::size_t frames_;
    std::size_t piece_;  ///< frames that are judged together
    std::size_t tail_;   ///< heard beyond a piece, for the latency
    std::vector<float> heard_;
    std::size_t first_{0};  ///< frame of the take at which `heard_` begins
    std::size_t pieces_{0};
    std::optional<double> latency_;
    std::vector<std::string> problems_;
};

}  // namespace cvrig
