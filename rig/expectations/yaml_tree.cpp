#include "rig/expectations/yaml_tree.hpp"

#include <yaml-cpp/exceptions.h>
#include <yaml-cpp/parser.h>

#include <algorithm>
#include <sstream>

#include "rig/expectations/yaml_builder.hpp"
#include "rig/expectations/yaml_fault.hpp"

namespace cvrig {

namespace {

[[noreturn]] void refuse(place where, std::string sentence) {
    throw user_error{std::vector{complaint{std::move(where), std::move(sentence)}}};
}

/// Tabs before the first character of a line, which YAML forbids and editors hide.
void require_no_tab_indentation(const std::string& text, const std::string& file) {
    int line = 1;
    int column = 1;
    bool indentation = true;
    for (const char c : text) {
        if (indentation && c == '\t') {
            refuse({file, line, column}, "This line is indented with a tab; use blanks instead.");
        }
        indentation = c == '\n' || (indentation && c == ' ');
        column = c == '\n' ? 1 : column + 1;
        line += c == '\n' ? 1 : 0;
    }
}

}  // namespace

const yaml_node* yaml_node::find(std::string_view key) const {
    const auto found = std::find_if(entries.begin(), entries.end(),
                                    [&](const yaml_entry& e) { return e.key == key; });
    return found == entries.end() ? nullptr : &found->value;
}

std::string_view in_words(yaml_node::kind k) noexcept {
    switch (k) {
        case yaml_node::kind::empty:
            return "nothing";
        case yaml_node::kind::text:
            return "a text";
        case yaml_node::kind::list:
            return "a list";
        case yaml_node::kind::map:
            return "a map of keys";
    }
    return "";
}

yaml_node read_yaml(const std::string& text, const std::string& file, complaint_list& wrong) {
    require_no_tab_indentation(text, file);
    yaml_builder builder{text, file, wrong};
    std::istringstream in{text};
    try {
        YAML::Parser parser{in};
        while (parser.HandleNextDocument(builder)) {
        }
    } catch (const YAML::Exception& e) {
        refuse(builder.at(e.mark), plain_yaml_fault(e.msg));
    }
    auto root = builder.take_root();
    if (root.what != yaml_node::kind::map) {
        refuse({file, 1, 1},
               "This file must be made of 'key: value' lines, beginning with "
               "'format: ...'.");
    }
    return root;
}

}  // namespace cvrig
