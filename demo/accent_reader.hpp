#pragma once

#include "demo/faults.hpp"

#include <array>
#include <cstddef>

namespace ferrule {

/// Which accent a note gets: that of the jack in the block in which it is struck.
class accent_reader {
public:
    accent_reader(const fault_set& faults, double block_seconds) noexcept;

    /// Once a block; true when the accent jack rose in it.
    bool watch(bool jack_high) noexcept;

    /// At a strike, after watch.
    bool at_strike() noexcept;

private:
    static constexpr std::size_t remembered = 1024;

    fault_set faults_;
    std::array<bool, remembered> history_{};
    std::size_t at_ = 0;
    std::size_t early_blocks_;
    bool note_before_ = false;
};

}  // namespace ferrule
