#pragma once

#include <set>
#include <string>
#include <string_view>
#include <vector>

#include "rig/expectations/complaint_list.hpp"
#include "rig/expectations/quantity.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig {

/// The keys of one map, read strictly: what is unknown, missing or of the wrong form becomes a
/// complaint, and the reader goes on with what it has.
class fields {
public:
    /// `what` names the map in messages, such as "jack 'pitch'".
    fields(const yaml_node& node, std::string what, std::vector<std::string> known,
           complaint_list& wrong);

    /// The value of a key; null if it is absent.
    [[nodiscard]] const yaml_node* optional(std::string_view key) const;
    /// As above, and complains if it is absent, unless a misspelt key was complained about already.
    [[nodiscard]] const yaml_node* required(std::string_view key) const;

    /// A quantity in its base unit, with a good one as an example; empty if absent or wrong.
    [[nodiscard]] std::optional<double> quantity(std::string_view key, dimension unit,
                                                 std::string example) const;
    [[nodiscard]] std::optional<double> required_quantity(std::string_view key, dimension unit,
                                                          std::string example) const;

    /// False if the node was no map at all.
    [[nodiscard]] bool usable() const noexcept { return node_.what == yaml_node::kind::map; }

    [[nodiscard]] const place& where() const noexcept { return node_.where; }

private:
    void refuse_key(const yaml_entry& e);

    const yaml_node& node_;
    std::string what_;
    std::vector<std::string> known_;
    std::set<std::string> misspelt_;  ///< known keys that an unknown one was probably meant to be
    complaint_list& wrong_;
};

/// The text of a scalar, squeezed to one line; complains and is empty for anything else.
[[nodiscard]] std::string text_of(const yaml_node& node, std::string_view key,
                                  complaint_list& wrong);

/// A scalar or a list of scalars, each squeezed to one line; complains about an empty list,
/// other forms and a text that stands there twice. Places go with the texts.
struct placed_text {
    std::string text;
    place where;
};
[[nodiscard]] std::vector<placed_text> texts_of(const yaml_node& node, std::string_view key,
                                                complaint_list& wrong);

/// A quantity; complains and is empty for anything else.
[[nodiscard]] std::optional<double> quantity_of(const yaml_node& node, const wanted& want,
                                                complaint_list& wrong);

/// A range "0 V to 5 V" whose first side is below the second; complains otherwise.
struct range {
    double low;
    double high;
};
[[nodiscard]] std::optional<range> range_of(const yaml_node& node, std::string_view key,
                                            dimension unit, complaint_list& wrong);

/// A name that goes into messages, file names and arguments: not empty, one line, at most 60
/// bytes, without '=' and '/'. Complains otherwise.
[[nodiscard]] bool is_name(const placed_text& name, std::string_view what, complaint_list& wrong);

}  // namespace cvrig
