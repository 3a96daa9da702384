#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/link/interface.hpp"
#include "rig/link/link.hpp"

namespace cvrig {

/// What an audio link needs beside the interface and the bench.
struct audio_link_options {
    std::vector<std::string> recorded;  ///< heard jacks, in channel order
    std::stop_token stop{};
    int repeats{2};  ///< of a bad take, before its problems stay
};

/// Plays the stimulus through an audio interface and proves that the record is whole.
///
/// Beside the stimulus, a known sequence goes through the loop-back cable and is decoded sample by
/// sample: that tells the latency, and whether every sample came back once and in order. What was
/// heard begins with what was heard of the stimulus's sample 0 and has its length, to the nearest
/// sample. A take is bad for: any event of the stream, a break, a loop-back whose gain changed by
/// more than 1 % since the first take, a rate that is off by more than 50 ppm (or twice the clock's
/// uncertainty, if that is more), inputs at full scale. A bad take is played again; what was wrong
/// with it goes to the log. On a simulated interface only the loop-back and a lost stream count, and
/// what the driver and the clock say goes to the log.
class audio_link : public link {
public:
    /// Both must outlive this object. The settings of a take are somebody else's business (see
    /// setter.hpp).
    audio_link(audio_interface& to, const bench& b, audio_link_options options);

    take play(const stimulus& s, const setting_choice& choice, int number, int attempt) override;
    [[nodiscard]] std::string description() const override;
    /// Once the interface is gone and could not be opened again.
    [[nodiscard]] bool is_hopeless() const override { return lost_in_a_row_ >= 2; }

    /// Without a loop-back cable: the latency that the patch check found. Needed before play()
    /// unless the bench file gives a round trip; without both a take begins unaligned.
    void use_latency(seconds latency) { latency_ = latency; }
    /// The latency in use: of the latest loop-back, else as set, else the bench's round trip.
    [[nodiscard]] std::optional<seconds> latency() const { return latency_; }

private:
    struct verdict_on_loop {
        std::vector<std::string> problems;
        std::optional<double> latency_samples;
    };

    void play_once(take& t);
    [[nodiscard]] volts_out prepared(const stimulus& s) const;
    [[nodiscard]] verdict_on_loop judge_loop(const volts_in& in, std::size_t sent, take& t);
    void add_events(const volts_in& in, take& t) const;
    void add_clipping(take& t) const;
    void cut(const volts_in& in, std::size_t begin, take& t) const;

    audio_interface& interface_;
    const bench& bench_;
    audio_link_options options_;
    std::vector<std::size_t> heard_inputs_;  ///< for each recorded jack its input of the bench
    std::optional<seconds> latency_;
    std::optional<double> first_loop_gain_;
    int lost_in_a_row_{0};  ///< exchanges that ended with a vanished stream
};

}  // namespace cvrig
