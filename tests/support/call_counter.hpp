#pragma once

#include <cstddef>

namespace cvrig::test {

/// Counts, on the thread that asks, what a realtime thread must never do: memory taken or given
/// back, mutexes locked. Only a program that links call_counter.cpp counts.
class call_counter {
public:
    call_counter();
    ~call_counter();
    call_counter(const call_counter&) = delete;
    call_counter& operator=(const call_counter&) = delete;

    [[nodiscard]] std::size_t memory_calls() const;
    [[nodiscard]] std::size_t locks() const;
};

}  // namespace cvrig::test
