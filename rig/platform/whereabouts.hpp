#pragma once

#include <string>
#include <vector>

namespace cvrig {

/// What this computer knows of its user and of itself, so that it can be kept out of what is given
/// away. Lists hold nothing empty and nothing twice.
struct whereabouts {
    std::vector<std::string> people;   ///< the login name, the full name and its parts
    std::vector<std::string> hosts;    ///< the computer's name, with and without its domain
    std::vector<std::string> folders;  ///< the home folder
};

/// Source: the environment (USER, LOGNAME, HOME), the system's list of users, the host's name.
[[nodiscard]] whereabouts own_whereabouts();

}  // namespace cvrig
