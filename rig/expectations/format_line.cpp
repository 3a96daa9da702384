#include "rig/expectations/format_line.hpp"

#include <fmt/format.h>

#include <charconv>

#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

constexpr int newest = 1;

[[noreturn]] void refuse(const place& where, std::string sentence) {
    throw user_error{std::vector{complaint{where, std::move(sentence)}}};
}

/// The version in "cvrig expectations 3" if `start` is "cvrig expectations "; 0 if it is none.
int version_after(std::string_view text, const std::string& start) {
    int version = 0;
    if (!text.starts_with(start)) return 0;
    text.remove_prefix(start.size());
    const auto* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, version);
    return read.ec == std::errc{} && read.ptr == end ? version : 0;
}

}  // namespace

void require_format(const yaml_node& root, std::string_view kind, complaint_list& wrong) {
    const auto expected = fmt::format("cvrig {} {}", kind, newest);
    const auto* line = root.find("format");
    if (line == nullptr) {
        wrong.add(root.where, fmt::format("The first line must be 'format: {}'.", expected));
        return;
    }
    const auto text = squeezed(line->text);
    if (text == expected) return;
    const auto version = version_after(text, fmt::format("cvrig {} ", kind));
    if (version > newest) {
        refuse(line->where,
               fmt::format("This file has format {}, and this cvrig reads up to format "
                           "{}; use a newer cvrig.",
                           version, newest));
    }
    const std::string_view other = kind == "bench" ? "expectations" : "bench";
    if (text.starts_with(fmt::format("cvrig {}", other))) {
        refuse(line->where,
               fmt::format("This is the format line of a file of another kind ({}); it should be "
                           "'{}'.",
                           other, expected));
    }
    wrong.add(line->where,
              fmt::format("{} is not a known format; write 'format: {}'.",
                          line->what == yaml_node::kind::text ? quoted(text) : "This", expected));
}

}  // namespace cvrig
