#include "rig/image/fault_list.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace cvrig {

namespace {

constexpr std::size_t most = 20;

}  // namespace

void fault_list::add(image_fault::kind what, std::string sentence) {
    // One of each kind is always kept, so that neither hides the other.
    const bool is_first = std::ranges::find(faults_, what, &image_fault::what) == faults_.end();
    if (faults_.size() < most || is_first)
        faults_.push_back({what, std::move(sentence)});
    else
        ++more_;
}

void fault_list::warn(std::string sentence) {
    if (warnings_.size() < most) warnings_.push_back(std::move(sentence));
}

void fault_list::hand_over(firmware_image& to) {
    if (more_ > 0)
        faults_.push_back(
            {image_fault::kind::structure, fmt::format("{} more faults are not listed.", more_)});
    to.faults = std::move(faults_);
    to.warnings = std::move(warnings_);
}

}  // namespace cvrig
