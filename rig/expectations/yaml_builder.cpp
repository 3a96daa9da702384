#include "rig/expectations/yaml_builder.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

#include "rig/expectations/wording.hpp"
#include "rig/expectations/yaml_fault.hpp"

namespace cvrig {

namespace {

constexpr std::size_t deepest = 16;

[[noreturn]] void refuse(place where, std::string_view sentence) {
    throw user_error{std::vector{complaint{std::move(where), std::string{sentence}}}};
}

std::vector<std::string_view> lines_of(std::string_view text) {
    std::vector<std::string_view> lines;
    std::size_t start = 0;
    while (start <= text.size()) {
        const auto end = std::min(text.find('\n', start), text.size());
        lines.push_back(text.substr(start, end - start));
        start = end + 1;
    }
    return lines;
}

}  // namespace

yaml_builder::yaml_builder(const std::string& text, std::string file, complaint_list& wrong)
    : file_{std::move(file)}, lines_{lines_of(text)}, wrong_{wrong} {}

place yaml_builder::at(const YAML::Mark& mark) const {
    if (mark.line < 0) return {file_, 0, 0};
    const auto line = static_cast<std::size_t>(mark.line);
    int column = mark.column;
    if (line < lines_.size()) {
        const auto before = lines_[line].substr(0, static_cast<std::size_t>(mark.column));
        column -= static_cast<int>(std::count_if(before.begin(), before.end(), [](char c) {
            return (static_cast<unsigned char>(c) & 0xC0U) == 0x80U;
        }));
    }
    return {file_, mark.line + 1, column + 1};
}

void yaml_builder::OnDocumentStart(const YAML::Mark& mark) {
    if (++documents_ > 1) {
        refuse(at(mark),
               "A second document begins here; keep everything in one document of 'key: value' "
               "lines, without '---'.");
    }
}

void yaml_builder::OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) {
    require_plain(mark, "", anchor);
    put({yaml_node::kind::empty, {}, {}, {}, at(mark)});
}

void yaml_builder::OnAlias(const YAML::Mark& mark, YAML::anchor_t) {
    refuse(at(mark), no_anchors);
}

void yaml_builder::OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                            const std::string& value) {
    require_plain(mark, tag, anchor);
    put({yaml_node::kind::text, value, {}, {}, at(mark)});
}

void yaml_builder::OnSequenceStart(const YAML::Mark& mark, const std::string& tag,
                                   YAML::anchor_t anchor, YAML::EmitterStyle::value) {
    require_plain(mark, tag, anchor);
    open({yaml_node::kind::list, {}, {}, {}, at(mark)});
}

void yaml_builder::OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                              YAML::EmitterStyle::value) {
    require_plain(mark, tag, anchor);
    open({yaml_node::kind::map, {}, {}, {}, at(mark)});
}

/// The parser gives the tag "?" to plain nodes and "!" to quoted ones.
void yaml_builder::require_plain(const YAML::Mark& mark, const std::string& tag,
                                 YAML::anchor_t anchor) const {
    if (anchor != 0) refuse(at(mark), no_anchors);
    if (!tag.empty() && tag != "?" && tag != "!") refuse(at(mark), no_tags);
}

bool yaml_builder::wants_key() const {
    return !open_.empty() && open_.back().node.what == yaml_node::kind::map && !open_.back().entry;
}

void yaml_builder::open(yaml_node node) {
    if (wants_key()) refuse(node.where, "A key must be a plain text; quote it if it is one.");
    if (open_.size() >= deepest) {
        refuse(node.where, "The nesting is too deep; these files need few levels.");
    }
    open_.push_back({std::move(node), {}, {}});
}

void yaml_builder::close() {
    auto done = std::move(open_.back().node);
    open_.pop_back();
    put(std::move(done));
}

void yaml_builder::put(yaml_node node) {
    if (open_.empty()) {
        root_ = std::move(node);
    } else if (wants_key()) {
        put_key(node);
    } else if (open_.back().node.what == yaml_node::kind::map) {
        put_value(open_.back(), std::move(node));
    } else {
        open_.back().node.items.push_back(std::move(node));
    }
}

void yaml_builder::put_key(const yaml_node& node) {
    if (node.text.empty()) refuse(node.where, "A key is missing before the colon.");
    open_.back().entry = yaml_entry{squeezed(node.text), node.where, {}};
}

void yaml_builder::put_value(open_node& map, yaml_node node) {
    auto entry = std::move(*map.entry);
    map.entry.reset();
    if (!map.keys.insert(entry.key).second) {
        wrong_.add(entry.where, fmt::format("{} stands here a second time; keep one of the two.",
                                            quoted(entry.key)));
        return;
    }
    // The parser puts the absent value of "key:" wherever it goes on reading.
    if (node.what == yaml_node::kind::empty) node.where = entry.where;
    entry.value = std::move(node);
    map.node.entries.push_back(std::move(entry));
}

}  // namespace cvrig
