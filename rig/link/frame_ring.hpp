#pragma once

#include <atomic>
#include <cstddef>
#include <vector>

namespace cvrig {

/// A queue of frames between one writing and one reading thread, of which one may be a realtime
/// thread: after construction neither side allocates, locks or waits.
class frame_ring {
public:
    frame_ring(std::size_t channels, std::size_t frames)
        : channels_{channels}, capacity_{frames}, samples_(channels * frames) {}

    [[nodiscard]] std::size_t channels() const noexcept { return channels_; }
    [[nodiscard]] std::size_t capacity() const noexcept { return capacity_; }

    /// Frames that the reader may take. Exact for the reader; for the writer, at most this many.
    [[nodiscard]] std::size_t filled() const noexcept {
        return written_.load(std::memory_order_acquire) - read_.load(std::memory_order_acquire);
    }
    [[nodiscard]] std::size_t space() const noexcept { return capacity_ - filled(); }

    /// Writes `frames` frames, at most space(); `sample_at(channel, frame)` gives each sample.
    template <class Value>
    void write(std::size_t frames, const Value& sample_at) noexcept {
        const std::size_t begin = written_.load(std::memory_order_relaxed);
        for (std::size_t c = 0; c < channels_; ++c)
            for (std::size_t i = 0, at = begin % capacity_; i < frames; ++i, at = after(at))
                samples_[c * capacity_ + at] = sample_at(c, i);
        written_.store(begin + frames, std::memory_order_release);
    }

    /// Hands the next frame to `use(channel, sample)` and leaves it there. Needs filled() > 0.
    template <class Use>
    void peek(const Use& use) const noexcept {
        const std::size_t at = read_.load(std::memory_order_relaxed) % capacity_;
        for (std::size_t c = 0; c < channels_; ++c) use(c, samples_[c * capacity_ + at]);
    }

    /// Takes `frames` frames, at most filled(), and hands each to `use(channel, frame, sample)`.
    template <class Use>
    void read(std::size_t frames, const Use& use) noexcept {
        const std::size_t begin = read_.load(std::memory_order_relaxed);
        for (std::size_t c = 0; c < channels_; ++c)
            for (std::size_t i = 0, at = begin % capacity_; i < frames; ++i, at = after(at))
                use(c, i, samples_[c * capacity_ + at]);
        read_.store(begin + frames, std::memory_order_release);
    }

private:
    [[nodiscard]] std::size_t after(std::size_t at) const noexcept {
        return at + 1 == capacity_ ? 0 : at + 1;
    }

    std::size_t channels_;
    std::size_t capacity_;
    std::vector<float> samples_;
    alignas(64) std::atomic<std::size_t> written_{0};
    alignas(64) std::atomic<std::size_t> read_{0};
};

}  // namespace cvrig
