#pragma once

#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/place.hpp"

namespace cvrig {

struct yaml_entry;

/// A piece of a YAML file, with its place. Scalars stay text: the reader knows what it wants.
struct yaml_node {
    enum class kind { empty, text, list, map };

    kind what{kind::empty};
    std::string text;
    std::vector<yaml_node> items;
    std::vector<yaml_entry> entries;  ///< in file order, without repeated keys
    place where;

    /// The value of a key; null if this is no map or has no such key.
    [[nodiscard]] const yaml_node* find(std::string_view key) const;
};

struct yaml_entry {
    std::string key;
    place where;
    yaml_node value;
};

/// "nothing", "a text", "a list" or "a map of keys", for messages.
[[nodiscard]] std::string_view in_words(yaml_node::kind k) noexcept;

/// Reads one YAML document whose outermost level is a map.
///
/// Source:  YAML 1.2 (2009) without anchors, aliases and tags, which these files do not need and
///          which would let a small file become an endless one.
/// Input:   checked text (read_text_file); depth at most 16.
/// Refuses: throws user_error with one sentence for text that is not YAML, anchors, aliases, tags,
///          several documents, tabs as indentation, too deep nesting, keys that are no plain text.
///          Repeated keys go to `wrong`, and the first one is kept.
[[nodiscard]] yaml_node read_yaml(const std::string& text, const std::string& file,
                                  complaint_list& wrong);

}  // namespace cvrig
