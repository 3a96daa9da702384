#pragma once

#include <initializer_list>
#include <string>
#include <string_view>
#include <vector>

namespace cvrig::report {

/// An attribute; its value is escaped when it is written.
struct attribute {
    std::string_view name;
    std::string value;
};

/// Writes HTML or SVG elements. Whatever text comes in is made printable and escaped; only
/// `trusted` writes as it is, and takes nothing that came from a run.
class markup {
public:
    using attributes = std::initializer_list<attribute>;

    void open(std::string_view tag, attributes all = {});
    void close();
    void text(std::string_view foreign);
    /// An element that holds nothing but text.
    void leaf(std::string_view tag, std::string_view foreign) { leaf(tag, {}, foreign); }
    void leaf(std::string_view tag, attributes all, std::string_view foreign);
    /// An element that has no content and no end tag (meta) or is closed at once (SVG shapes).
    void empty(std::string_view tag, attributes all);
    void trusted(std::string_view html) { out_ += html; }
    [[nodiscard]] std::string take();

private:
    void start(std::string_view tag, attributes all, std::string_view end);

    std::string out_;
    std::vector<std::string> opened_;
};

/// For text and for attribute values in double quotes.
[[nodiscard]] std::string escaped(std::string_view foreign);

/// JSON that may stand inside a script element: no '<', '>' or '&' is left as itself.
[[nodiscard]] std::string script_safe(std::string_view json);

}  // namespace cvrig::report
