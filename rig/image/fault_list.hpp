#pragma once

#include <cstddef>
#include <string>

#include "rig/image/image.hpp"

namespace cvrig {

/// The faults of a file that is being read. A file that is wrong all over has thousands: the first
/// ones are told, the others counted.
class fault_list {
public:
    void structure(std::string sentence) { add(image_fault::kind::structure, std::move(sentence)); }
    void checksum(std::string sentence) { add(image_fault::kind::checksum, std::move(sentence)); }
    void warn(std::string sentence);

    /// Moves all into the image, to be called once.
    void hand_over(firmware_image& to);

private:
    void add(image_fault::kind what, std::string sentence);

    std::vector<image_fault> faults_;
    std::vector<std::string> warnings_;
    std::size_t more_{0};
};

}  // namespace cvrig
