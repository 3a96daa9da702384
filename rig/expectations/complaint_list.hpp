#pragma once

#include <string>
#include <vector>

#include "rig/expectations/user_error.hpp"

namespace cvrig {

/// Gathers what is wrong with one file, so that the user hears all of it at once.
class complaint_list {
public:
    void add(place where, std::string sentence);

    /// True if nothing is wrong so far.
    [[nodiscard]] bool empty() const noexcept { return complaints_.empty(); }

    /// True if further sentences are only counted, so that nobody need compose them.
    [[nodiscard]] bool full() const noexcept { return complaints_.size() >= most; }

    /// Throws user_error with every complaint in the order of the file; does nothing if there is
    /// none. After the first hundred it only tells how many more there are.
    void raise() const;

private:
    static constexpr std::size_t most = 100;
    std::vector<complaint> complaints_;
    std::size_t untold_{0};
};

}  // namespace cvrig
