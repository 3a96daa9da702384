#pragma once

#include <filesystem>
#include <memory>
#include <vector>

#include "analysis/units.hpp"

namespace cvrig {

/// A WAV or RF64 file in volts, read from front to back in constant memory. It may be larger than
/// 4 GB (EBU Tech 3306, RF64).
class wave_source {
public:
    /// Refuses: throws user_error for a file that is missing, no WAV, holds no samples or is no
    ///          float (PCM cannot hold more than 1 V).
    explicit wave_source(const std::filesystem::path& file);
    ~wave_source();
    wave_source(const wave_source&) = delete;
    wave_source& operator=(const wave_source&) = delete;

    [[nodiscard]] sample_rate rate() const noexcept;
    [[nodiscard]] std::size_t channels() const noexcept;
    [[nodiscard]] std::size_t frames() const noexcept;

    /// Fills the channels, which are of one length, from frame `first` on. Throws user_error if the
    /// file ends early.
    void read(std::size_t first, std::vector<std::vector<float>>& to);

private:
    struct state;
    std::unique_ptr<state> state_;
};

/// A WAV file of 32-bit floats in volts, written from front to back in constant memory; RF64 if it
/// grows beyond what WAV can hold. It gets its name only when it is complete.
class wave_sink {
public:
    /// Throws user_error if it cannot be written.
    wave_sink(std::filesystem::path file, sample_rate rate, std::size_t channels);
    /// Without finish(), nothing stays.
    ~wave_sink();
    wave_sink(const wave_sink&) = delete;
    wave_sink& operator=(const wave_sink&) = delete;

    /// Appends frames [first, end) of each channel. Throws user_error if the disk is full.
    void write(const std::vector<std::vector<float>>& from, std::size_t first, std::size_t end);
    void finish();

private:
    struct state;
    std::unique_ptr<state> state_;
};

}  // namespace cvrig
