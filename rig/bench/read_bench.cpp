#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/bench/bench.hpp"
#include "rig/bench/bench_sections.hpp"
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

}  // namespace

bench read_bench(const std::string& file) {
    const auto text = read_text_file(file);
    complaint_list wrong;
    const auto root = read_yaml(text, file, wrong);
    require_format(root, "bench", wrong);

    const fields top{root,
                     "a bench file",
                     {"format", "name", "link", "outputs", "inputs", "clock", "console"},
                     wrong};
    bench b;
    b.file = file;
    b.sha256 = sha256_of(text);
    if (const auto* name = top.required("name")) {
        b.name = text_of(*name, "name", wrong);
        if (!is_name({b.name, name->where}, "a bench", wrong)) b.name.clear();
    }
    if (const auto* link = top.required("link")) b.program = read_link(*link, wrong);
    if (const auto* outputs = top.required("outputs")) b.outputs = read_outputs(*outputs, wrong);
    if (const auto* inputs = top.required("inputs")) b.inputs = read_inputs(*inputs, wrong);
    if (const auto* console = top.optional("console")) b.console = read_console(*console, wrong);
    b.u_clock_ppm = read_clock(root, wrong);
    wrong.raise();
    return b;
}

}  // namespace cvrig
