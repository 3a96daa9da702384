#pragma once

#include <yaml-cpp/eventhandler.h>
#include <yaml-cpp/mark.h>

#include <optional>
#include <set>
#include <string>
#include <vector>

#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// Builds yaml_nodes from the events of the YAML parser; throws user_error at the first thing that
/// these files do not allow.
class yaml_builder final : public YAML::EventHandler {
public:
    yaml_builder(const std::string& text, std::string file, complaint_list& wrong);

    /// The document, once it has been parsed.
    [[nodiscard]] yaml_node take_root() { return std::move(root_); }

    /// The place of a mark, its column counted in characters.
    [[nodiscard]] place at(const YAML::Mark& mark) const;

    void OnDocumentStart(const YAML::Mark& mark) override;
    void OnDocumentEnd() override {}
    void OnNull(const YAML::Mark& mark, YAML::anchor_t anchor) override;
    void OnAlias(const YAML::Mark& mark, YAML::anchor_t anchor) override;
    void OnScalar(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                  const std::string& value) override;
    void OnSequenceStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                         YAML::EmitterStyle::value style) override;
    void OnSequenceEnd() override { close(); }
    void OnMapStart(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor,
                    YAML::EmitterStyle::value style) override;
    void OnMapEnd() override { close(); }

private:
    /// A list or map whose end has not come yet.
    struct open_node {
        yaml_node node;
        std::optional<yaml_entry> entry;  ///< a key that waits for its value
        std::set<std::string> keys;
    };

    void require_plain(const YAML::Mark& mark, const std::string& tag, YAML::anchor_t anchor) const;
    bool wants_key() const;
    void open(yaml_node node);
    void close();
    void put(yaml_node node);
    void put_key(const yaml_node& node);
    void put_value(open_node& map, yaml_node node);

    std::string file_;
    std::vector<std::string_view> lines_;
    complaint_list& wrong_;
    std::vector<open_node> open_;
    yaml_node root_;
    int documents_{0};
};

}  // namespace cvrig
