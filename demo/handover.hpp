#pragma once

#include <atomic>
#include <type_traits>

namespace ferrule {

/// Hands one value at a time from a patient thread to an audio callback: no lock, no waiting and
/// no allocation on the callback's side. One writer, one reader.
template <typename Value>
class handover {
    static_assert(std::is_trivially_copyable_v<Value>);

public:
    /// Whether the reader has taken the last value, so that the next may be put.
    [[nodiscard]] bool is_free() const noexcept { return !full_.load(std::memory_order_acquire); }

    /// Only when it is free.
    void put(const Value& value) noexcept {
        value_ = value;
        full_.store(true, std::memory_order_release);
    }

    /// Reads what is new; false when there is nothing. The writer waits until done() is called.
    bool peek(Value& into) const noexcept {
        if (!full_.load(std::memory_order_acquire)) return false;
        into = value_;
        return true;
    }
    void done() noexcept { full_.store(false, std::memory_order_release); }

private:
    Value value_{};
    std::atomic<bool> full_{false};
};

}  // namespace ferrule
