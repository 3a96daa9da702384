#include "rig/report/markup.hpp"

#include <array>

#include "rig/report/text.hpp"

namespace cvrig::report {

namespace {

/// Elements that begin on a line of their own, which keeps the source of a page readable.
bool begins_line(std::string_view tag) {
    static constexpr std::array inner{"a", "abbr", "b",     "code", "em",
                                      "i", "q",    "small", "span", "strong"};
    for (const std::string_view t : inner) {
        if (t == tag) return false;
    }
    return true;
}

}  // namespace

std::string escaped(std::string_view foreign) {
    std::string safe;
    for (const char c : printable(foreign)) {
        switch (c) {
            case '&':
                safe += "&amp;";
                break;
            case '<':
                safe += "&lt;";
                break;
            case '>':
                safe += "&gt;";
                break;
            case '"':
                safe += "&quot;";
                break;
            default:
                safe += c;
        }
    }
    return safe;
}

std::string script_safe(std::string_view json) {
    std::string safe;
    for (const char c : json) {
        switch (c) {
            case '&':
                safe += "\\u0026";
                break;
            case '<':
                safe += "\\u003c";
                break;
            case '>':
                safe += "\\u003e";
                break;
            default:
                safe += c;
        }
    }
    return safe;
}

void markup::start(std::string_view tag, attributes all, std::string_view end) {
    if (begins_line(tag)) out_ += '\n';
    out_ += '<';
    out_ += tag;
    for (const auto& a : all) {
        out_ += ' ';
        out_ += a.name;
        out_ += "=\"";
        out_ += escaped(a.value);
        out_ += '"';
    }
    out_ += end;
}

void markup::open(std::string_view tag, attributes all) {
    start(tag, all, ">");
    opened_.emplace_back(tag);
}

void markup::close() {
    out_ += "</";
    out_ += opened_.back();
    out_ += '>';
    opened_.pop_back();
}

void markup::text(std::string_view foreign) {
    out_ += escaped(foreign);
}

void markup::leaf(std::string_view tag, attributes all, std::string_view foreign) {
    open(tag, all);
    text(foreign);
    close();
}

void markup::empty(std::string_view tag, attributes all) {
    start(tag, all, "/>");
}

std::string markup::take() {
    while (!opened_.empty()) close();
    return std::move(out_);
}

}  // namespace cvrig::report
