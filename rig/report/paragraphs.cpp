#include "rig/report/paragraphs.hpp"

#include <fmt/format.h>

#include "rig/report/text.hpp"

namespace cvrig::report {

void add_paragraphs(std::string& out, const std::string& heading,
                    const std::vector<std::string>& all, const ink& pen) {
    if (all.empty()) return;
    out += fmt::format("\n{}\n", pen.strong(heading));
    for (const auto& sentence : all) {
        bool first = true;
        for (const auto& line : wrapped(pen.text(sentence), pen.width() - 4)) {
            out += fmt::format("{}{}\n", first ? "  - " : "    ", line);
            first = false;
        }
    }
}

}  // namespace cvrig::report
