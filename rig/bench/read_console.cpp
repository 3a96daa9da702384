#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <charconv>
#include <map>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/link/placeholders.hpp"

namespace cvrig {

namespace {

using way = console_settings::way;

/// The whole of `text` as a number; empty for anything else.
std::optional<unsigned> whole_number(std::string_view text, int base) {
    unsigned n = 0;
    const auto* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, n, base);
    if (text.empty() || read.ec != std::errc{} || read.ptr != end) return std::nullopt;
    return n;
}

void read_usb(const std::string& text, const place& where, console_settings& c,
              complaint_list& wrong) {
    const auto colon = text.find(':');
    const auto vendor = text.substr(0, colon);
    const auto product = colon == std::string::npos ? std::string{} : text.substr(colon + 1);
    const auto v = whole_number(vendor, 16);
    const auto p = whole_number(product, 16);
    if (vendor.size() == 4 && product.size() == 4 && v && p) {
        c.vendor_id = static_cast<std::uint16_t>(*v);
        c.product_id = static_cast<std::uint16_t>(*p);
        return;
    }
    wrong.add(where, fmt::format("{} are no USB ids; write vendor and product as four hexadecimal "
                                 "digits each, such as \"1209:0001\".",
                                 cvrig::quoted(text)));
}

void read_tcp(const std::string& text, const place& where, console_settings& c,
              complaint_list& wrong) {
    if (has_placeholder(text)) return;  // read again when the run says what it stands for
    if (read_host_and_port(text, c)) return;
    wrong.add(where, fmt::format("{} is no host and port; write for example 'localhost:5025'.",
                                 cvrig::quoted(text)));
}

void read_program(const yaml_node& node, console_settings& c, complaint_list& wrong) {
    if (node.what != yaml_node::kind::list || node.items.empty()) {
        wrong.add(node.where,
                  "'program' must be a list of the command and its arguments, such as "
                  "[ferrule, console].");
        return;
    }
    for (const auto& item : node.items) {
        if (item.what == yaml_node::kind::text) {
            c.command.push_back(item.text);
        } else {
            wrong.add(item.where, fmt::format("An argument of 'program' must be a text, and here "
                                              "is {}; put it in quotes.",
                                              in_words(item.what)));
        }
    }
    if (!c.command.empty() && c.command.front().empty())
        wrong.add(node.where, "'program' must begin with the command to run.");
}

struct way_key {
    std::string key;
    way how;
};

const std::array<way_key, 5>& ways() {
    static const std::array<way_key, 5> all{
        way_key{"serial", way::serial_path}, way_key{"usb", way::usb},
        way_key{"terminal", way::terminal}, way_key{"tcp", way::tcp},
        way_key{"program", way::program}};
    return all;
}

const std::vector<std::string>& keys() {
    static const std::vector<std::string> all{"serial",  "usb",      "serial number",
                                              "baud",    "terminal", "tcp",
                                              "program", "line end", "return time"};
    return all;
}

void read_way(const way_key& chosen, const yaml_node& node, console_settings& c,
              complaint_list& wrong) {
    c.how = chosen.how;
    if (chosen.how == way::program) {
        read_program(node, c, wrong);
        return;
    }
    c.path = text_of(node, chosen.key, wrong);
    if (c.path.empty()) return;
    if (chosen.how == way::usb) read_usb(c.path, node.where, c, wrong);
    if (chosen.how == way::tcp) read_tcp(c.path, node.where, c, wrong);
}

/// Exactly one of the ways must be named.
void read_ways(const fields& f, const yaml_node& node, console_settings& c, complaint_list& wrong) {
    const way_key* chosen = nullptr;
    bool misspelt = false;
    for (const auto& entry : node.entries) {
        const auto found = std::ranges::find(ways(), entry.key, &way_key::key);
        if (found == ways().end()) {
            misspelt = misspelt || std::ranges::find(keys(), entry.key) == keys().end();
            continue;
        }
        if (chosen != nullptr) {
            wrong.add(entry.where,
                      fmt::format("A module has one console: keep either {} or {}.",
                                  cvrig::quoted(chosen->key), cvrig::quoted(found->key)));
            continue;
        }
        chosen = found;
        read_way(*chosen, *f.optional(chosen->key), c, wrong);
    }
    if (chosen == nullptr && !misspelt)
        wrong.add(node.where,
                  "'console' must say where the console is: one of serial, usb, "
                  "terminal, tcp and program, such as 'serial: /dev/ttyACM0'.");
}

void read_baud(const fields& f, console_settings& c, complaint_list& wrong) {
    const auto* node = f.optional("baud");
    if (node == nullptr) return;
    const auto text = text_of(*node, "baud", wrong);
    if (text.empty()) return;
    const auto n = whole_number(text, 10);
    if (c.how != way::serial_path && c.how != way::usb) {
        wrong.add(node->where, "'baud' belongs to a serial port ('serial' or 'usb').");
    } else if (n && *n >= 50 && *n <= 4'000'000) {
        c.baud = static_cast<int>(*n);
    } else {
        wrong.add(node->where, fmt::format("'baud' must be a whole number from 50 to 4000000, such "
                                           "as 115200, and here is {}.",
                                           cvrig::quoted(text)));
    }
}

void read_line_end(const fields& f, console_settings& c, complaint_list& wrong) {
    const auto* node = f.optional("line end");
    if (node == nullptr) return;
    const auto text = text_of(*node, "line end", wrong);
    if (text.empty()) return;
    static const std::map<std::string, std::string> known{
        {"LF", "\n"}, {"CR", "\r"}, {"CR LF", "\r\n"}};
    if (const auto found = known.find(text); found != known.end()) {
        c.line_end = found->second;
        return;
    }
    const std::vector<std::string> names{"LF", "CR", "CR LF"};
    wrong.add(node->where, not_one_of(text, "a line end", names));
}

void read_return_time(const fields& f, console_settings& c, complaint_list& wrong) {
    const double s =
        f.quantity("return time", dimension::seconds, "10 s").value_or(c.return_time.value());
    if (s >= 0.0 && s <= 300.0) {
        c.return_time = seconds{s};
    } else {
        wrong.add(f.optional("return time")->where,
                  fmt::format("'return time' must be from 0 s to 300 s, and here is {}.",
                              show(s, dimension::seconds)));
    }
}

}  // namespace

bool read_host_and_port(const std::string& text, console_settings& c) {
    const auto colon = text.rfind(':');
    if (colon == std::string::npos || colon == 0) return false;
    auto host = text.substr(0, colon);
    const auto port = whole_number(std::string_view{text}.substr(colon + 1), 10);
    if (!port || *port < 1 || *port > 65535) return false;
    const bool in_brackets = host.size() > 2 && host.front() == '[' && host.back() == ']';
    if (in_brackets) host = host.substr(1, host.size() - 2);
    if (!in_brackets && host.find(':') != std::string::npos) return false;
    c.host = host;
    c.port = static_cast<std::uint16_t>(*port);
    return true;
}

console_settings read_console(const yaml_node& node, complaint_list& wrong) {
    console_settings c;
    c.where = node.where;
    const fields f{node, "'console'", keys(), wrong};
    if (!f.usable()) return c;
    read_ways(f, node, c, wrong);
    read_baud(f, c, wrong);
    if (const auto* number = f.optional("serial number")) {
        c.serial_number = text_of(*number, "serial number", wrong);
        if (c.how != way::usb)
            wrong.add(number->where, "'serial number' belongs to 'usb', which names the device.");
    }
    read_line_end(f, c, wrong);
    read_return_time(f, c, wrong);
    return c;
}

}  // namespace cvrig
