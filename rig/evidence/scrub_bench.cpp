#include "rig/evidence/scrub_bench.hpp"

#include <algorithm>
#include <utility>

#include "rig/evidence/member_name.hpp"
#include "rig/evidence/path_words.hpp"

namespace cvrig::evidence {

namespace {

yaml_node* find(yaml_node& map, std::string_view key) {
    const auto found = std::ranges::find(map.entries, key, &yaml_entry::key);
    return found == map.entries.end() ? nullptr : &found->value;
}

void erase(yaml_node& map, std::string_view key) {
    std::erase_if(map.entries, [&](const yaml_entry& e) { return e.key == key; });
}

void set(yaml_node& map, std::string_view key, std::string text, scrub_count& replaced,
         std::size_t scrub_count::*as) {
    auto* node = find(map, key);
    if (node == nullptr || node->what != yaml_node::kind::text || node->text == text) return;
    node->text = std::move(text);
    ++(replaced.*as);
}

/// Every {name} of a text, one after another.
std::string placeholders_of(std::string_view text) {
    std::string out;
    while (true) {
        const auto open = text.find('{');
        const auto close = text.find('}', open);
        if (open == std::string_view::npos || close == std::string_view::npos) return out;
        out += text.substr(open, close + 1 - open);
        text.remove_prefix(close + 1);
    }
}

void scrub_text(yaml_node& node, const private_names& names, scrub_count& replaced) {
    auto clean = scrubbed(node.text, names);
    node.text = std::move(clean.text);
    replaced += clean.replaced;
}

void scrub_program(yaml_node& link, const private_names& names, scrub_count& replaced) {
    auto* program = find(link, "program");
    if (program == nullptr) return;
    for (auto& argument : program->items) {
        auto clean = scrubbed_argument(argument.text, names);
        argument.text = std::move(clean.text);
        replaced += clean.replaced;
    }
}

void scrub_console(yaml_node& console, const private_names& names, scrub_count& replaced) {
    set(console, "serial", "left out", replaced, &scrub_count::ports);
    set(console, "terminal", "left out", replaced, &scrub_count::ports);
    set(console, "tcp", "left-out:1", replaced, &scrub_count::addresses);
    set(console, "serial number", "left out", replaced, &scrub_count::ports);
    scrub_program(console, names, replaced);
}

}  // namespace

scrubbed_text scrubbed_argument(const std::string& argument, const private_names& names) {
    const auto equals = argument.find('=');
    const auto begin = equals == std::string::npos ? 0 : equals + 1;
    const auto said = argument.substr(begin);
    const bool is_file = said.find_first_of("/\\~") != std::string::npos || has_file_ending(said);
    if (!is_file) return scrubbed(argument, names);
    auto out = scrubbed(argument.substr(0, begin), names);
    out.text += "<path>" + placeholders_of(said);
    ++out.replaced.paths;
    return out;
}

scrubbed_bench scrub_bench(yaml_node root, const private_names& names, bool has_trim) {
    scrub_count replaced;
    if (auto* name = find(root, "name")) scrub_text(*name, names, replaced);
    if (auto* link = find(root, "link")) {
        scrub_program(*link, names, replaced);
        if (auto* audio = find(*link, "audio")) scrub_text(*audio, names, replaced);
    }
    if (auto* console = find(root, "console")) scrub_console(*console, names, replaced);
    for (const auto* channels : {"outputs", "inputs"})
        if (auto* list = find(root, channels))
            for (auto& one : list->items)
                if (auto* socket = find(one, "socket")) scrub_text(*socket, names, replaced);
    // Nothing is built or flashed from evidence, and such commands are full of names.
    for (const auto* step : {"build", "flash"}) erase(root, step);
    if (has_trim)
        set(root, "trim", std::string{member::trim}, replaced, &scrub_count::paths);
    else
        erase(root, "trim");
    return {std::move(root), replaced};
}

}  // namespace cvrig::evidence
