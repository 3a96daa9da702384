#pragma once

#include <cstddef>
#include <span>
#include <string>
#include <vector>

#include "analysis/units.hpp"
#include "rig/bench/bench.hpp"
#include "rig/link/exchange_feeder.hpp"
#include "rig/link/take.hpp"

/// What a page shows of a run while it plays: levels, and a trace that is coarse enough to be sent.
namespace cvrig::service {

/// Which way a channel goes, seen from the bench.
enum class way { out, in };

/// One channel: how loud it is, and the outline of its latest course.
struct channel_look {
    std::string jack;
    way goes{way::in};
    double full_v{10.0};  ///< the most that the channel can give or take
    double peak_v{0.0};   ///< the largest magnitude
    double rms_v{0.0};    ///< with its DC
    std::vector<float> low,
        high;  ///< least and greatest volts of equal pieces of the span, oldest first
};

/// All channels of a bench that lead to the module or come from it: outputs, then inputs.
struct levels {
    seconds span{0.0};  ///< of the traces
    std::vector<channel_look> channels;
};

/// The channels of a bench with no level yet: its outputs, then its inputs.
[[nodiscard]] std::vector<channel_look> channels_of(const bench& b);

/// A take from beginning to end: those of the channels that it has.
[[nodiscard]] levels levels_of(const take& t, std::vector<channel_look> like);

/// The latest seconds of a stream. Levels are those of its latest 0.3 s.
class rolling_levels {
public:
    rolling_levels(std::vector<channel_look> channels, sample_rate rate);

    /// The next frames of all outputs and all inputs, in the order of the channels; all of one length.
    void add(const channel_spans& sent, const channel_spans& heard);

    [[nodiscard]] levels look() const;

private:
    struct piece {
        float low{0.0F}, high{0.0F};
        double square_sum{0.0};
    };

    void grow(std::size_t channel, std::span<const float> part);
    void finish_piece();

    std::vector<channel_look> channels_;
    std::size_t piece_frames_;
    std::size_t filled_{0};                   ///< frames in the pieces that grow now
    std::vector<piece> growing_;              ///< one a channel
    std::vector<std::vector<piece>> pieces_;  ///< oldest first
    seconds piece_length_;
};

}  // namespace cvrig::service
