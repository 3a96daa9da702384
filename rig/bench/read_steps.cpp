#include <fmt/format.h>

#include <algorithm>
#include <filesystem>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

constexpr double longest_s = 3600.0;
constexpr seconds usual_build{600.0};
constexpr seconds usual_flash{120.0};
constexpr std::string_view port_word{"{port}"};

/// `path`, seen from `folder`.
std::string seen_from(const fs::path& folder, const std::string& path) {
    return (folder / path).lexically_normal().string();
}

fs::path folder_of(const place& where) {
    return fs::absolute(where.file).parent_path();
}

void read_limit(const fields& f, bench_step& step, complaint_list& wrong) {
    const double s =
        f.quantity("time limit", dimension::seconds, "2 min").value_or(step.time_limit.value());
    if (s > 0.0 && s <= longest_s) {
        step.time_limit = seconds{s};
    } else {
        wrong.add(f.optional("time limit")->where,
                  fmt::format("'time limit' must be above 0 s and at most 3600 s, and here is {}.",
                              show(s, dimension::seconds)));
    }
}

void read_program(const fields& f, std::string_view example, bench_step& step,
                  complaint_list& wrong) {
    const auto* node = f.required("program");
    if (node == nullptr) return;
    for (auto& a : read_command_line(*node, "program", example, wrong))
        step.command.push_back(std::move(a.text));
    if (!step.command.empty() && step.command.front().empty())
        wrong.add(node->where, "'program' must begin with the command to run.");
}

void read_folder(const fields& f, bench_step& step, complaint_list& wrong) {
    const auto* node = f.optional("folder");
    const auto named = node == nullptr ? std::string{"."} : text_of(*node, "folder", wrong);
    step.folder = seen_from(folder_of(step.where), named);
}

bool asks_for_port(const bench_step& step) {
    return std::ranges::any_of(
        step.command, [](const std::string& a) { return a.find(port_word) != std::string::npos; });
}

bool has_serial_port(const std::optional<console_settings>& console) {
    using way = console_settings::way;
    return console && (console->how == way::serial_path || console->how == way::usb ||
                       console->how == way::terminal);
}

}  // namespace

std::vector<placed_text> read_command_line(const yaml_node& node, std::string_view key,
                                           std::string_view example, complaint_list& wrong) {
    std::vector<placed_text> out;
    const bool is_list = node.what == yaml_node::kind::list;
    if (!is_list || node.items.empty()) {
        wrong.add(node.where,
                  fmt::format("'{}' must be a list of the command and its arguments, "
                              "such as {}, and here is {}.",
                              key, example, is_list ? "an empty list" : in_words(node.what)));
        return out;
    }
    for (const auto& item : node.items) {
        if (item.what == yaml_node::kind::text) {
            out.push_back({item.text, item.where});
        } else {
            wrong.add(item.where, fmt::format("An argument of '{}' must be a text, and here is {}; "
                                              "put it in quotes.",
                                              key, in_words(item.what)));
        }
    }
    return out;
}

bench_step read_build(const yaml_node& node, complaint_list& wrong) {
    bench_step step{.time_limit = usual_build, .where = node.where};
    const fields f{node, "'build'", {"program", "folder", "makes", "time limit"}, wrong};
    if (!f.usable()) return step;
    read_program(f, "[make, -C, firmware]", step, wrong);
    read_folder(f, step, wrong);
    read_limit(f, step, wrong);
    if (const auto* makes = f.optional("makes")) {
        const auto image = text_of(*makes, "makes", wrong);
        if (!image.empty()) step.makes = seen_from(step.folder, image);
    }
    if (asks_for_port(step))
        wrong.add(node.where, "A build does not speak to the module; {port} belongs to 'flash'.");
    return step;
}

bench_step read_flash(const yaml_node& node, const std::optional<console_settings>& console,
                      complaint_list& wrong) {
    bench_step step{.time_limit = usual_flash, .where = node.where};
    const fields f{node, "'flash'", {"program", "folder", "time limit"}, wrong};
    if (!f.usable()) return step;
    read_program(f, "[./flash, \"{image}\"]", step, wrong);
    read_folder(f, step, wrong);
    read_limit(f, step, wrong);
    if (asks_for_port(step) && !has_serial_port(console))
        wrong.add(node.where,
                  "{port} is the serial port of the module's console, and this bench has no "
                  "'console' with 'serial', 'usb' or 'terminal'.");
    return step;
}

}  // namespace cvrig
