#include "rig/report/wiring_layout.hpp"

#include <algorithm>
#include <utility>

namespace cvrig::report {

namespace {

constexpr double top = 84.0;
constexpr double caption_height = 30.0;
constexpr double line_height = 36.0;
constexpr double foot = 18.0;

// Two wires that end in one socket share its line.
void add_line(std::vector<panel_line>& to, const std::string& text, std::size_t wire) {
    for (auto& line : to) {
        if (line.is_caption || line.text != text) continue;
        line.wires.push_back(wire);
        return;
    }
    to.push_back({.text = text, .is_caption = false, .wires = {wire}, .y = 0.0});
}

void add_group(std::vector<panel_line>& to, const std::string& caption,
               std::vector<panel_line> lines) {
    if (lines.empty()) return;
    to.push_back({.text = caption, .is_caption = true, .wires = {}, .y = 0.0});
    std::move(lines.begin(), lines.end(), std::back_inserter(to));
}

using numbered = std::pair<std::size_t, std::size_t>;  // channel, wire

std::vector<panel_line> by_channel(std::vector<numbered> all, const wiring_card& card,
                                   std::string wire::*end) {
    std::stable_sort(all.begin(), all.end(),
                     [](const auto& a, const auto& b) { return a.first < b.first; });
    std::vector<panel_line> out;
    for (const auto& [channel, i] : all) add_line(out, card.wires[i].*end, i);
    return out;
}

std::vector<panel_line> left_of(const wiring_card& card) {
    std::vector<numbered> outputs, inputs;
    std::vector<panel_line> computer, out;
    for (std::size_t i = 0; i < card.wires.size(); ++i) {
        const auto& w = card.wires[i];
        if (w.from_channel > 0) outputs.emplace_back(w.from_channel, i);
        if (w.to_channel > 0) inputs.emplace_back(w.to_channel, i);
        if (w.what == wire::kind::console) add_line(computer, w.from, i);
    }
    add_group(out, "Outputs", by_channel(std::move(outputs), card, &wire::from));
    add_group(out, "Inputs", by_channel(std::move(inputs), card, &wire::to));
    add_group(out, "Computer", std::move(computer));
    return out;
}

std::vector<panel_line> right_of(const wiring_card& card) {
    std::vector<panel_line> driven, recorded, console, out;
    for (std::size_t i = 0; i < card.wires.size(); ++i) {
        const auto& w = card.wires[i];
        if (w.what == wire::kind::drive) add_line(driven, w.to, i);
        if (w.what == wire::kind::listen) add_line(recorded, w.from, i);
        if (w.what == wire::kind::console) add_line(console, w.to, i);
    }
    add_group(out, "Driven jacks", std::move(driven));
    add_group(out, "Recorded jacks", std::move(recorded));
    add_group(out, "Port", std::move(console));
    return out;
}

double stack(std::vector<panel_line>& lines) {
    double y = top;
    for (auto& line : lines) {
        const double height = line.is_caption ? caption_height : line_height;
        line.y = y + height / 2.0;
        y += height;
    }
    return y;
}

}  // namespace

wiring_layout lay_out(const wiring_card& card) {
    wiring_layout out;
    out.left = left_of(card);
    out.right = right_of(card);
    out.height = std::max(stack(out.left), stack(out.right)) + foot;
    return out;
}

}  // namespace cvrig::report
