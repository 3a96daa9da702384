#include "rig/evidence/write_yaml.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <optional>

namespace cvrig::evidence {

namespace {

constexpr std::size_t widest = 110;
constexpr std::size_t indent_columns = 2;

using kind = yaml_node::kind;

/// True for a text that means itself without quotes wherever it stands (YAML 1.2, 7.3.3): words of letters,
/// digits and a few signs, none of which has a meaning there.
bool is_plain(std::string_view text) {
    const auto is_alphanumeric = [](char c) {
        return (c >= 'a' && c <= 'z') || (c >= 'A' && c <= 'Z') || (c >= '0' && c <= '9');
    };
    if (text.empty() || !is_alphanumeric(text.front()) || text.back() == ' ') return false;
    for (const std::string_view special : {"null", "Null", "NULL"})
        if (text == special) return false;
    return std::ranges::all_of(text, [&](char c) {
        return is_alphanumeric(c) ||
               std::string_view{" ._-+/%^()"}.find(c) != std::string_view::npos;
    });
}

void add_escaped(std::string& out, char c) {
    const auto code = static_cast<unsigned char>(c);
    if (code < 0x20 || code == 0x7F) {
        out += fmt::format("\\x{:02x}", code);
        return;
    }
    if (c == '"' || c == '\\') out += '\\';
    out += c;
}

std::string scalar(std::string_view text) {
    if (is_plain(text)) return std::string{text};
    std::string out{"\""};
    for (const char c : text) add_escaped(out, c);
    return out + '"';
}

/// On one line.
std::string flow(const yaml_node& node) {
    std::string out;
    switch (node.what) {
        case kind::empty:
            return "null";
        case kind::text:
            return scalar(node.text);
        case kind::list:
            for (const auto& item : node.items) out += (out.empty() ? "" : ", ") + flow(item);
            return fmt::format("[{}]", out);
        case kind::map:
            for (const auto& e : node.entries)
                out +=
                    fmt::format("{}{}: {}", out.empty() ? "" : ", ", scalar(e.key), flow(e.value));
            return fmt::format("{{{}}}", out);
    }
    return out;
}

bool has_members(const yaml_node& node) {
    return !node.items.empty() || !node.entries.empty();
}

void add_block(std::string& out, const yaml_node& node, std::size_t indent);

/// What stands behind "key:" or "-".
void add_value(std::string& out, const yaml_node& node, std::size_t indent, std::size_t used) {
    const auto line = flow(node);
    if (!has_members(node) || used + line.size() < widest) {
        out += fmt::format(" {}\n", line);
        return;
    }
    out += '\n';
    add_block(out, node, indent + indent_columns);
}

void add_block(std::string& out, const yaml_node& node, std::size_t indent) {
    const std::string margin(indent, ' ');
    for (const auto& item : node.items) {
        out += margin + '-';
        add_value(out, item, indent, indent + 2);
    }
    for (const auto& e : node.entries) {
        const auto key = scalar(e.key);
        out += fmt::format("{}{}:", margin, key);
        add_value(out, e.value, indent, indent + key.size() + 2);
    }
}

}  // namespace

std::string yaml_text(const yaml_node& root) {
    std::string out;
    for (const auto& e : root.entries) {
        const auto key = scalar(e.key);
        const bool is_section = e.value.what == kind::map && e.value.entries.size() > 1 &&
                                std::ranges::any_of(e.value.entries, [](const yaml_entry& inner) {
                                    return has_members(inner.value);
                                });
        out += key + ':';
        if (is_section) {
            out += '\n';
            add_block(out, e.value, indent_columns);
        } else {
            add_value(out, e.value, 0, key.size() + 2);
        }
    }
    return out;
}

}  // namespace cvrig::evidence
