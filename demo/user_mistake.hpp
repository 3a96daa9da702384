#pragma once

#include <stdexcept>

namespace ferrule {

/// Something the user can put right; the text is one plain sentence.
class user_mistake : public std::runtime_error {
public:
    using std::runtime_error::runtime_error;
};

}  // namespace ferrule
