#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <filesystem>

#include "rig/bench/bench.hpp"
#include "rig/bench/bench_sections.hpp"
#include "rig/bench/trim_file.hpp"
#include "rig/expectations/fields.hpp"
#include "rig/expectations/format_line.hpp"
#include "rig/expectations/text_file.hpp"
#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

double read_clock(const yaml_node& root, complaint_list& wrong) {
    const auto* clock = root.find("clock");
    if (clock == nullptr) return 0.0;
    const fields f{*clock, "'clock'", {"uncertainty"}, wrong};
    constexpr double ppm_per_percent = 1e4;
    return ppm_per_percent * read_uncertainty(f, "20 ppm", wrong).value_or(0.0);
}

/// The trim file stands beside the bench file, unless its path says otherwise.
std::string trim_path(const yaml_node& node, const std::string& bench_file, complaint_list& wrong) {
    const auto name = text_of(node, "trim", wrong);
    if (name.empty()) return {};
    auto path = std::filesystem::path{bench_file};
    path.replace_filename(name);  // an absolute name stays as it is
    return path.string();
}

void read_interface_keys(const fields& top, bench& b, complaint_list& wrong) {
    const auto* loop = top.optional("loop-back");
    const auto* trim = top.optional("trim");
    for (const auto* node : {loop, trim})
        if (node != nullptr && !b.audio)
            wrong.add(node->where,
                      "A loop-back cable and a trim belong to an audio interface, and "
                      "this bench has none; remove the key, or give 'link' an 'audio'.");
    if (!b.audio) return;
    if (loop != nullptr) b.loop = read_loop_back(*loop, wrong);
    if (trim != nullptr) b.trim_file = trim_path(*trim, b.file, wrong);
    if (b.audio->simulated && loop == nullptr)
        wrong.add(b.audio->where,
                  "A simulated interface needs a 'loop-back', since nothing else "
                  "tells whether a take is whole.");
    check_channels(b, wrong);
}

}  // namespace

bench read_bench(const std::string& file) {
    const auto text = read_text_file(file);
    complaint_list wrong;
    const auto root = read_yaml(text, file, wrong);
    require_format(root, "bench", wrong);

    const fields top{root,
                     "a bench file",
                     {"format", "name", "link", "outputs", "inputs", "loop-back", "trim", "clock",
                      "console", "build", "flash"},
                     wrong};
    bench b;
    b.file = file;
    b.sha256 = sha256_of(text);
    if (const auto* name = top.required("name")) {
        b.name = text_of(*name, "name", wrong);
        if (!is_name({b.name, name->where}, "a bench", wrong)) b.name.clear();
    }
    if (const auto* link = top.required("link")) read_link(*link, b, wrong);
    const bool has_channels = b.audio.has_value();
    if (const auto* outputs = top.required("outputs"))
        b.outputs = read_outputs(*outputs, has_channels, wrong);
    if (const auto* inputs = top.required("inputs"))
        b.inputs = read_inputs(*inputs, has_channels, wrong);
    read_interface_keys(top, b, wrong);
    if (const auto* console = top.optional("console")) b.console = read_console(*console, wrong);
    if (const auto* build = top.optional("build")) b.build = read_build(*build, wrong);
    if (const auto* flash = top.optional("flash")) b.flash = read_flash(*flash, b.console, wrong);
    b.u_clock_ppm = read_clock(root, wrong);
    wrong.raise();
    if (!b.trim_file.empty() && std::filesystem::exists(b.trim_file))
        apply(read_trim_file(b.trim_file), b);
    return b;
}

}  // namespace cvrig
