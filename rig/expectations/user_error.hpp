#pragma once

#include <stdexcept>
#include <string>
#include <vector>

#include "rig/expectations/place.hpp"

namespace cvrig {

/// One thing wrong with what a user gave us: what was found, what is allowed, what to do, in one
/// plain sentence. The sentence does not repeat the place.
struct complaint {
    place where;
    std::string sentence;

    /// "file:line:column: sentence".
    [[nodiscard]] std::string text() const;
};

/// A file, argument, device or wiring that cannot be used. Carries every complaint found in one go;
/// what() is all of them, one a line.
class user_error : public std::runtime_error {
public:
    explicit user_error(std::vector<complaint> complaints);
    /// One complaint that has no place in a file.
    explicit user_error(std::string sentence);

    [[nodiscard]] const std::vector<complaint>& complaints() const noexcept { return complaints_; }

private:
    std::vector<complaint> complaints_;
};

}  // namespace cvrig
