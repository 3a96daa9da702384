#include "rig/checks/extremes_notes.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <numeric>

#include "analysis/cutoff.hpp"
#include "analysis/darkening.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using namespace literals;

constexpr seconds until_late{0.08}, before_end{0.002};

plain_note note_in(const heard_passage& heard, std::size_t index, hertz expected) {
    plain_note out;
    out.sound = part_of_step(heard, 0, index, 30_ms, before_end);
    out.late = part_of_step(heard, 0, index, until_late, before_end);
    out.is_heard = sounds(heard, 0, out.sound);
    out.clear.assign(out.sound.begin(), out.sound.end());
    out.tone = pitch_near(out.clear, heard.rate, expected);
    return out;
}

bool is_clear(const plain_note& note) {
    constexpr decibels clear{6.0};
    return note.tone && note.tone->snr > clear;
}

void read_darkened(plain_note& note, sample_rate rate, hertz expected) {
    note.clear = analysis::darkened(note.sound, rate, 3.0 * expected);
    note.tone = pitch_near(note.clear, rate, expected);
}

// Aliases may make every other period a little different, and the tone is read an octave too low: a tone
// of that pitch has odd harmonics.
hertz pitch_of(const analysis::tone_reading& tone, std::span<const double> sound,
               const heard_passage& heard) {
    constexpr double far_below = 0.01;
    constexpr std::array<std::size_t, 4> numbers{1, 2, 3, 4};
    const auto levels = analysis::windowed_levels(sound, heard.rate, tone.pitch, numbers,
                                                  noise_of(heard.silence[0]));
    if (!levels) return tone.pitch;
    const auto peak = [&](std::size_t number) { return (*levels)[number - 1].peak; };
    const bool only_even = std::max(peak(1), peak(3)) < far_below * std::max(peak(2), peak(4));
    return only_even ? 2.0 * tone.pitch : tone.pitch;
}

hertz pitch_of(const plain_note& note, const heard_passage& heard) {
    return pitch_of(*note.tone, note.sound, heard);
}

constexpr std::size_t lows = 4;  // harmonics that count

struct low_power {
    double square_volts{0.0};
    double u_noise_square_volts{0.0};
    double u_ringing_square_volts{0.0};

    [[nodiscard]] double db() const { return 10.0 * std::log10(std::max(square_volts, 1e-12)); }
    [[nodiscard]] double in_db(double u_square_volts) const {
        return 10.0 / std::log(10.0) * u_square_volts / std::max(square_volts, 1e-12);
    }
};

// Mean square of what lies half-way to the next harmonics: it rings at a pitch of its own, and as
// much of it lies on the harmonic itself.
double ringing_beside(const std::vector<analysis::harmonic_level>& halves, std::size_t number) {
    const auto square_at = [&](std::size_t half) {
        const auto& one = halves[half - 1];
        return one.peak.value() * one.peak.value() -
               2.0 * one.u_noise.value() * one.u_noise.value();
    };
    return std::max(0.0, 0.5 * (square_at(2 * number - 1) + square_at(2 * number + 1)));
}

analysis::outcome<low_power> power_of(std::span<const double> sound, hertz pitch,
                                      const heard_passage& heard) {
    std::array<std::size_t, 2 * lows + 1> numbers{};
    std::iota(numbers.begin(), numbers.end(), std::size_t{1});
    const auto halves = analysis::windowed_levels(sound, heard.rate, 0.5 * pitch, numbers,
                                                  noise_of(heard.silence[0]));
    if (!halves) return analysis::refuse(halves.error());
    low_power out;
    double noise = 0.0, ringing = 0.0;
    for (std::size_t number = 1; number <= lows; ++number) {
        const auto& one = (*halves)[2 * number - 1];
        const double square = one.peak.value() * one.peak.value();
        out.square_volts += 0.5 * square;
        noise += square * one.u_peak.value() * one.u_peak.value();
        ringing += 0.5 * square * ringing_beside(*halves, number);
    }
    out.u_noise_square_volts = std::sqrt(noise);
    out.u_ringing_square_volts = std::sqrt(ringing);
    return out;
}

analysis::outcome<double> fall_db_per_second(const plain_note& note, hertz pitch,
                                             const heard_passage& heard) {
    const std::size_t part = note.late.size() * 2 / 3;
    const auto begin = power_of(note.late.first(part), pitch, heard);
    const auto end = power_of(note.late.last(part), pitch, heard);
    if (!begin || !end) return analysis::refuse(begin ? end.error() : begin.error());
    return (end->db() - begin->db()) * heard.rate.value() /
           static_cast<double>(note.late.size() - part);
}

}  // namespace

seconds least_held(hertz expected) {
    // Two thirds of what is late are two periods of half the pitch, and a little to spare.
    constexpr double periods = 6.2;
    return until_late + before_end + seconds{periods / expected.value()};
}

note_pair hear_notes(const heard_passage& heard, std::size_t first, std::size_t last,
                     hertz expected) {
    note_pair out{note_in(heard, first, expected), note_in(heard, last, expected)};
    if (is_clear(out.first) && is_clear(out.last)) return out;
    read_darkened(out.first, heard.rate, expected);
    read_darkened(out.last, heard.rate, expected);
    return out;
}

bool is_tone_again(const note_pair& notes, const heard_passage& heard) {
    constexpr cents same{50.0};
    constexpr decibels noisier{20.0}, clear_anyhow{40.0};
    const auto& [first, last] = notes;
    if (!last.is_heard) return false;
    const hertz pitch = pitch_of(first, heard);
    const decibels clear = std::min(first.tone->snr - noisier, clear_anyhow);
    const std::span all{last.clear};
    const auto is_again = [&](std::size_t begin, std::size_t length) {
        const auto sound = all.subspan(begin, length);
        const auto tone = pitch_near(sound, heard.rate, pitch);
        return tone && tone->snr > clear &&
               std::abs(interval(pitch_of(*tone, sound, heard), pitch).value()) < same.value();
    };
    const std::size_t part = all.size() / 5;
    return is_again(0, all.size()) || is_again(0, 2 * part) || is_again(part, 2 * part) ||
           is_again(2 * part, 2 * part) || is_again(3 * part, 2 * part);
}

analysis::outcome<level_change> measure_level_change(const note_pair& notes,
                                                     const heard_passage& heard) {
    const hertz pitch = pitch_of(notes.first, heard);
    const auto was = power_of(notes.first.late, pitch, heard);
    const auto fell = fall_db_per_second(notes.first, pitch, heard);
    if (!was || !fell) return analysis::refuse(was ? fell.error() : was.error());
    const hertz now = notes.last.tone ? pitch_of(notes.last, heard) : pitch;
    const auto heard_again = power_of(notes.last.late, now, heard);
    if (!heard_again && heard_again.error() != analysis::refusal::silent)
        return analysis::refuse(heard_again.error());
    const auto is = heard_again.value_or(low_power{});
    const auto both_db = [&](double low_power::*part) {
        return decibels{std::hypot(was->in_db((*was).*part), is.in_db(is.*part))};
    };
    // Each is the difference of two values that are spread evenly: over a block, over a converter's step.
    constexpr double u_strike_s = 1e-3 / 2.449489742783178;
    constexpr double u_repeat_db = 0.037 / 2.449489742783178;
    return level_change{decibels{is.db() - was->db()}, both_db(&low_power::u_noise_square_volts),
                        decibels{std::abs(*fell) * u_strike_s}, decibels{u_repeat_db},
                        both_db(&low_power::u_ringing_square_volts)};
}

}  // namespace cvrig
