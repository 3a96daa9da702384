#pragma once

#include "demo/jack/jack_client.hpp"

#include <set>
#include <string>
#include <string_view>
#include <utility>

namespace ferrule {

/// The cables between the interface's sockets and the module's jacks: which are wanted, whether or
/// not both ends are there yet.
class patch_bay {
public:
    patch_bay(jack_client& jack, std::string desk, std::string module);

    /// "1:pitch,2:gate": from the socket OUT to a jack of the module. "left:1": from the module to
    /// the socket IN. "7:3": from OUT to IN. "none" is no cable. Each replaces all of its kind;
    /// throws user_mistake at what is not understood.
    void set_cables(std::string_view text);
    void set_back(std::string_view text);
    void set_loop(std::string_view text);

    /// Plugs what is wanted and not there, unplugs what is there and not wanted. False while an
    /// end of a cable is missing.
    bool mend() noexcept;

private:
    using cable = std::pair<std::string, std::string>;
    using cables = std::set<cable>;
    void replace(cables& kind, cables by) noexcept;

    jack_client& jack_;
    std::string desk_;
    std::string module_;
    cables forward_, back_, loop_;
};

}  // namespace ferrule
