#pragma once

#include <algorithm>
#include <cstddef>
#include <functional>
#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/link/interface.hpp"
#include "rig/run/patch_score.hpp"

/// What the patch check hears.
namespace cvrig::patching {

/// Plays scores until one comes back whole; a loop-back cable, if there is one, proves that.
class player {
public:
    player(audio_interface& desk, const bench& b, seconds tail, std::stop_token stop)
        : desk_{desk}, bench_{b}, tail_{tail}, stop_{std::move(stop)} {}

    /// Nothing if it was stopped or no record came back whole; then problem() says why.
    [[nodiscard]] std::optional<volts_in> play(score_writer score);

    /// Records no longer than that needs.
    void expect_latency(seconds latency) noexcept { tail_ = std::min(tail_, latency + to_spare); }

    [[nodiscard]] const std::string& problem() const noexcept { return problem_; }
    [[nodiscard]] seconds played() const noexcept { return played_; }
    [[nodiscard]] sample_rate rate() const { return desk_.rate(); }

private:
    static constexpr seconds to_spare{0.05};

    audio_interface& desk_;
    const bench& bench_;
    seconds tail_;
    std::stop_token stop_;
    std::string problem_;
    seconds played_{0.0};
};

/// Which inputs carry sound.
struct loudness {
    std::vector<double> loudest_v;  ///< of each input: the loudest 20 ms, rms about their mean
    std::vector<double> silence_v;  ///< of each input: rms of the record's opening
    std::vector<bool> sounds;
    std::size_t best{0};  ///< the loudest input
};

/// `opening`: so many samples are surely silent.
[[nodiscard]] loudness compare_inputs(const volts_in& heard, std::size_t opening);

/// A part of a note.
struct note_sound {
    double level_db{0.0};       ///< rms about the mean, re 1 V
    double brightness_db{0.0};  ///< the same of the difference from sample to sample
    std::optional<hertz> pitch;
};

/// One input's record beside the score that was played.
class ear {
public:
    ear(const volts_in& heard, std::size_t input, sample_rate rate, double delay_samples);

    /// From `skip` after the part's beginning on, `length` long; a negative `skip` counts from the
    /// part's end. Cut to the record.
    [[nodiscard]] std::span<const double> at(held_part p, seconds skip, seconds length) const;
    /// The same, as a note: level and brightness over whole periods if it has a pitch.
    [[nodiscard]] note_sound note(held_part p, seconds skip, seconds length) const;
    [[nodiscard]] double level_db(held_part p, seconds skip, seconds length) const;
    /// From a part's beginning until the sound repeats itself at `target` for good; the part's
    /// length if it never does.
    [[nodiscard]] seconds arrival(held_part p, hertz target) const;

    [[nodiscard]] std::span<const double> record() const noexcept { return volts_; }
    [[nodiscard]] sample_rate rate() const noexcept { return rate_; }

private:
    std::vector<double> volts_;
    sample_rate rate_;
    double delay_samples_;
};

/// First sample from `from` on, and before `until`, that departs from the mean of the opening by
/// more than `threshold_v`.
[[nodiscard]] std::optional<std::size_t> first_sound(std::span<const double> record,
                                                     std::size_t opening, double threshold_v,
                                                     std::size_t from, std::size_t until);

}  // namespace cvrig::patching
