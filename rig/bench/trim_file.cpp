#include "rig/bench/trim_file.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/fields.hpp"
#include "rig/expectations/format_line.hpp"
#include "rig/expectations/text_file.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

volts read_u(const fields& f, std::string_view key, complaint_list& wrong) {
    const double v = f.quantity(key, dimension::volts, "0.1 mV").value_or(0.0);
    if (v < 0.0) wrong.add(f.optional(key)->where, "An uncertainty cannot be below 0.");
    return volts{v};
}

trimmed_channel read_trimmed(const fields& f, complaint_list& wrong) {
    trimmed_channel out;
    for (const auto* key : {"channel", "full scale", "offset"}) (void)f.required(key);
    out.channel = read_channel_number(f, "channel", wrong).value_or(0);
    if (const auto* name = f.optional("name")) out.name = text_of(*name, "name", wrong);
    if (const auto* date = f.optional("date")) out.date = text_of(*date, "date", wrong);
    out.trim.volts_per_full_scale = read_full_scale(f, "full scale", wrong).value_or(10.0);
    out.trim.offset = volts{f.quantity("offset", dimension::volts, "2 mV").value_or(0.0)};
    out.trim.u_volts_per_full_scale = read_u(f, "full scale uncertainty", wrong).value();
    out.trim.u_offset = read_u(f, "offset uncertainty", wrong);
    out.trim.covariance_volts_squared =
        f.quantity("covariance", dimension::ratio, "-1e-9").value_or(0.0);
    const double most = out.trim.u_volts_per_full_scale * out.trim.u_offset.value();
    if (std::abs(out.trim.covariance_volts_squared) > most * (1.0 + 1e-9))
        wrong.add(f.where(),
                  "The covariance is larger than the product of the two uncertainties, "
                  "which cannot be.");
    return out;
}

std::vector<trimmed_channel> read_list(const fields& top, std::string_view key,
                                       complaint_list& wrong) {
    std::vector<trimmed_channel> out;
    const auto* node = top.required(key);
    if (node == nullptr) return out;
    if (node->what != yaml_node::kind::list)
        wrong.add(node->where, fmt::format("{} must be a list of channels.", cvrig::quoted(key)));
    std::set<std::size_t> seen;
    for (const auto& item : node->items) {
        const fields f{item,
                       "a trimmed channel",
                       {"channel", "name", "full scale", "offset", "full scale uncertainty",
                        "offset uncertainty", "covariance", "date"},
                       wrong};
        if (!f.usable()) continue;
        out.push_back(read_trimmed(f, wrong));
        if (out.back().channel > 0 && !seen.insert(out.back().channel).second)
            wrong.add(item.where, fmt::format("Channel {} stands twice in {}; keep one of the two.",
                                              out.back().channel, cvrig::quoted(key)));
    }
    return out;
}

/// A text as YAML in double quotes.
std::string in_yaml(std::string_view text) {
    std::string out{"\""};
    for (const char c : squeezed(text)) {
        if (c == '"' || c == '\\') out += '\\';
        out += c;
    }
    return out + "\"";
}

void write_list(std::string& text, std::string_view key,
                const std::vector<trimmed_channel>& channels) {
    text += fmt::format("{}:{}\n", key, channels.empty() ? " []" : "");
    for (const auto& c : channels)
        text += fmt::format(
            "  - {{channel: {}, name: {}, full scale: {} V, offset: {} V,\n"
            "     full scale uncertainty: {} V, offset uncertainty: {} V, "
            "covariance: {}{}}}\n",
            c.channel, in_yaml(c.name), c.trim.volts_per_full_scale, c.trim.offset.value(),
            c.trim.u_volts_per_full_scale, c.trim.u_offset.value(), c.trim.covariance_volts_squared,
            c.date.empty() ? std::string{} : fmt::format(", date: {}", in_yaml(c.date)));
}

const trimmed_channel* find(const std::vector<trimmed_channel>& all, std::size_t channel) {
    for (const auto& c : all)
        if (c.channel == channel) return &c;
    return nullptr;
}

// The trimming writes the two together.
bool are_of_one_loop(const trimmed_channel* output, const trimmed_channel* input) {
    return output != nullptr && input != nullptr && output->name == loop_back_name &&
           input->name == loop_back_name;
}

/// Whether both ends of an output's limits are samples from -1 to 1.
bool reaches_limits(const bench_output& o) {
    return std::abs(o.trim.sample(o.lowest)) <= 1.0 && std::abs(o.trim.sample(o.highest)) <= 1.0;
}

}  // namespace

trim_constants read_trim_file(const std::string& file) {
    complaint_list wrong;
    const auto root = read_yaml(read_text_file(file), file, wrong);
    require_format(root, "trim", wrong);
    const fields top{
        root, "a trim file", {"format", "bench", "date", "meter", "outputs", "inputs"}, wrong};
    trim_constants out;
    if (const auto* bench = top.required("bench")) out.bench = text_of(*bench, "bench", wrong);
    if (const auto* date = top.required("date")) out.date = text_of(*date, "date", wrong);
    if (const auto* meter = top.optional("meter")) out.meter = squeezed(meter->text);
    out.outputs = read_list(top, "outputs", wrong);
    out.inputs = read_list(top, "inputs", wrong);
    wrong.raise();
    return out;
}

void write_trim_file(const std::string& file, const trim_constants& constants) {
    auto text = fmt::format(
        "# Written by `cvrig trim`: the constants of the interface's channels.\n"
        "format: cvrig trim 1\nbench: {}\ndate: {}\nmeter: {}\n",
        in_yaml(constants.bench), in_yaml(constants.date), in_yaml(constants.meter));
    write_list(text, "outputs", constants.outputs);
    write_list(text, "inputs", constants.inputs);
    write_file_atomically(file, text);
}

trim_constants merged(const trim_constants& earlier, trim_constants measured) {
    const auto add = [&](const std::vector<trimmed_channel>& old,
                         std::vector<trimmed_channel>& into) {
        for (auto c : old) {
            if (find(into, c.channel) != nullptr) continue;
            if (c.date.empty()) c.date = earlier.date;
            into.push_back(std::move(c));
        }
        std::ranges::sort(into, {}, &trimmed_channel::channel);
    };
    add(earlier.outputs, measured.outputs);
    add(earlier.inputs, measured.inputs);
    return measured;
}

void apply(const trim_constants& constants, bench& b) {
    const place where{b.trim_file, 0, 0};
    if (constants.bench != b.name)
        throw user_error{std::vector{
            complaint{where, fmt::format("This is the trim of bench {}, not of {}; trim this bench "
                                         "with `cvrig trim`.",
                                         cvrig::quoted(constants.bench), cvrig::quoted(b.name))}}};
    complaint_list wrong;
    for (auto& o : b.outputs) {
        if (const auto* t = find(constants.outputs, o.channel)) o.trim = t->trim;
        if (!reaches_limits(o))
            wrong.add(where, fmt::format("With these constants, output channel {} cannot reach the "
                                         "limits of jack {} ({}); narrow the limits.",
                                         o.channel, cvrig::quoted(o.jack), o.where.text()));
    }
    for (auto& i : b.inputs)
        if (const auto* t = find(constants.inputs, i.channel)) i.trim = t->trim;
    if (b.loop) {
        const auto* output = find(constants.outputs, b.loop->output_channel);
        const auto* input = find(constants.inputs, b.loop->input_channel);
        if (output != nullptr) b.loop->output_trim = output->trim;
        if (input != nullptr) b.loop->input_trim = input->trim;
        b.loop->trimmed_as_one = are_of_one_loop(output, input);
    }
    wrong.raise();
    b.trimmed = trim_origin{constants.date, constants.meter};
}

}  // namespace cvrig
