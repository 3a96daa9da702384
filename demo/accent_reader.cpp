#include "demo/accent_reader.hpp"

#include <algorithm>
#include <cmath>

namespace ferrule {

accent_reader::accent_reader(const fault_set& faults, double block_seconds) noexcept
    : faults_{faults},
      early_blocks_{static_cast<std::size_t>(
          std::clamp(std::round(faults[fault::accent_early] / 1000.0 / block_seconds), 0.0,
                     static_cast<double>(remembered - 1)))} {}

bool accent_reader::watch(bool jack_high) noexcept {
    const bool rose = jack_high && !history_[at_];
    at_ = (at_ + 1) % remembered;
    history_[at_] = jack_high;
    return rose;
}

bool accent_reader::at_strike() noexcept {
    const bool read = history_[(at_ + remembered - early_blocks_) % remembered];
    const bool given = faults_.has(fault::accent_late) ? note_before_ : read;
    note_before_ = read;
    return given;
}

}  // namespace ferrule
