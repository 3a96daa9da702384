#pragma once

#include <cstddef>
#include <string>
#include <vector>

#include "rig/bench/wiring.hpp"

/// Where everything stands in the picture of the cables, in its own units.
namespace cvrig::report {

/// A line of a panel: a caption, or a socket with the wires that end in it.
struct panel_line {
    std::string text;
    bool is_caption{false};
    std::vector<std::size_t> wires;  ///< places in the card
    double y{0.0};
};

struct wiring_layout {
    double width{760.0}, height{0.0};
    double left_edge{250.0}, right_edge{510.0};  ///< where the sockets sit
    std::vector<panel_line> left, right;
};

/// Outputs, inputs and the computer on the left, by channel; the module's jacks on the right, in
/// the order of its file.
[[nodiscard]] wiring_layout lay_out(const wiring_card& card);

}  // namespace cvrig::report
