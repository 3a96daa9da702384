#include <fmt/format.h>

#include <array>
#include <cmath>
#include <map>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// No interface has more.
constexpr double most_channels = 256.0;
constexpr double highest_full_scale = 100.0;

/// A whole number in a range; empty if absent or wrong.
std::optional<std::size_t> whole_number(const fields& f, std::string_view key, range allowed,
                                        const std::string& example, complaint_list& wrong) {
    const auto v = f.quantity(key, dimension::count, example);
    if (!v) return std::nullopt;
    if (*v >= allowed.low && *v <= allowed.high && *v == std::round(*v))
        return static_cast<std::size_t>(*v);
    wrong.add(f.optional(key)->where,
              fmt::format("{} must be a whole number from {:g} to {:g}, and here is {:g}.",
                          quoted(key), allowed.low, allowed.high, *v));
    return std::nullopt;
}

bool read_yes_or_no(const fields& f, std::string_view key, complaint_list& wrong) {
    const auto* node = f.optional(key);
    if (node == nullptr) return false;
    const auto text = text_of(*node, key, wrong);
    if (text != "yes" && text != "no" && !text.empty())
        wrong.add(node->where,
                  fmt::format("{} wants yes or no, and here is {}.", quoted(key), quoted(text)));
    return text == "yes";
}

std::string read_api(const fields& f, complaint_list& wrong) {
    const auto* node = f.optional("api");
    if (node == nullptr) return {};
    static const std::vector<std::string> apis{"jack", "alsa",   "pulse", "core",
                                               "oss",  "wasapi", "asio",  "ds"};
    auto text = text_of(*node, "api", wrong);
    if (text.empty() || std::find(apis.begin(), apis.end(), text) != apis.end()) return text;
    wrong.add(node->where, not_one_of(text, "a way to reach an audio interface", apis));
    return {};
}

void read_audio_rate(const fields& f, audio_link_settings& link, complaint_list& wrong) {
    const double hz = f.quantity("rate", dimension::hertz, "48 kHz").value_or(link.rate.value());
    if (hz >= 44.1e3 && hz <= 192e3 && hz == std::round(hz)) {
        link.rate = sample_rate{hz};
        return;
    }
    wrong.add(f.optional("rate")->where,
              fmt::format("'rate' of an interface must be a whole number of Hz from 44.1 kHz to "
                          "192 kHz, and here is {}.",
                          show(hz, dimension::hertz, 8)));
}

void read_round_trip(const fields& f, audio_link_settings& link, complaint_list& wrong) {
    const auto s = f.quantity("round trip", dimension::seconds, "12 ms");
    if (!s) return;
    if (*s >= 0.0 && *s <= 0.5) {
        link.round_trip = seconds{*s};
        return;
    }
    wrong.add(f.optional("round trip")->where,
              fmt::format("'round trip' must be from 0 s to 500 ms, and here is {}.",
                          show(*s, dimension::seconds)));
}

using used_channels = std::map<std::size_t, std::string>;

void use_channel(used_channels& used, std::size_t channel, const std::string& by,
                 const place& where, std::string_view direction, complaint_list& wrong) {
    const auto [other, is_new] = used.emplace(channel, by);
    if (is_new) return;
    wrong.add(where,
              fmt::format("{} would use {} channel {}, which {} has already; give one of the "
                          "two another 'channel'.",
                          capitalised(by), direction, channel, other->second));
}

}  // namespace

std::optional<std::size_t> read_channel_number(const fields& f, std::string_view key,
                                               complaint_list& wrong) {
    return whole_number(f, key, {1.0, most_channels}, "3", wrong);
}

std::optional<double> read_full_scale(const fields& f, std::string_view key,
                                      complaint_list& wrong) {
    const auto v = f.quantity(key, dimension::volts, "10 V");
    if (!v) return std::nullopt;
    if (*v != 0.0 && std::abs(*v) <= highest_full_scale) return v;
    wrong.add(f.optional(key)->where,
              fmt::format("{} is the voltage of a full-scale sample: not 0 V, at most 100 V, and "
                          "below 0 V only for a channel that inverts.",
                          quoted(key)));
    return std::nullopt;
}

std::optional<audio_link_settings> read_audio_link(const yaml_node& node, complaint_list& wrong) {
    audio_link_settings link;
    link.where = node.where;
    const fields f{node,
                   "'link'",
                   {"audio", "api", "rate", "block", "blocks", "round trip", "simulated"},
                   wrong};
    if (const auto* device = f.required("audio")) link.device = text_of(*device, "audio", wrong);
    link.api = read_api(f, wrong);
    read_audio_rate(f, link, wrong);
    link.block_frames =
        whole_number(f, "block", {32.0, 4096.0}, "256", wrong).value_or(link.block_frames);
    link.blocks = whole_number(f, "blocks", {2.0, 64.0}, "4", wrong).value_or(link.blocks);
    read_round_trip(f, link, wrong);
    link.simulated = read_yes_or_no(f, "simulated", wrong);
    return link;
}

std::optional<loop_back> read_loop_back(const yaml_node& node, complaint_list& wrong) {
    const fields f{node,
                   "'loop-back'",
                   {"output", "input", "level", "output full scale", "input full scale",
                    "output offset", "input offset", "output socket", "input socket"},
                   wrong};
    if (!f.usable()) return std::nullopt;
    loop_back loop;
    loop.where = node.where;
    for (const auto* key : {"output", "input"}) (void)f.required(key);
    loop.output_channel = read_channel_number(f, "output", wrong).value_or(0);
    loop.input_channel = read_channel_number(f, "input", wrong).value_or(0);
    loop.output_trim.volts_per_full_scale =
        read_full_scale(f, "output full scale", wrong).value_or(10.0);
    loop.input_trim.volts_per_full_scale =
        read_full_scale(f, "input full scale", wrong).value_or(10.0);
    loop.output_trim.offset =
        volts{f.quantity("output offset", dimension::volts, "2 mV").value_or(0.0)};
    loop.input_trim.offset =
        volts{f.quantity("input offset", dimension::volts, "2 mV").value_or(0.0)};
    loop.level = volts{f.quantity("level", dimension::volts, "1 V").value_or(loop.level.value())};
    const double most = 0.9 * std::min(std::abs(loop.output_trim.volts_per_full_scale),
                                       std::abs(loop.input_trim.volts_per_full_scale));
    if (loop.level.value() < 0.01 || loop.level.value() > most)
        wrong.add(
            f.optional("level") != nullptr ? f.optional("level")->where : node.where,
            fmt::format("The loop-back's 'level' must be from 10 mV to {} (0.9 of the smaller "
                        "full scale), and it is {}.",
                        show(most, dimension::volts), show(loop.level.value(), dimension::volts)));
    if (const auto* s = f.optional("output socket"))
        loop.output_socket = text_of(*s, "output socket", wrong);
    if (const auto* s = f.optional("input socket"))
        loop.input_socket = text_of(*s, "input socket", wrong);
    return loop;
}

void check_channels(const bench& b, complaint_list& wrong) {
    used_channels outputs;
    used_channels inputs;
    for (const auto& o : b.outputs)
        use_channel(outputs, o.channel, "jack " + quoted(o.jack), o.where, "output", wrong);
    for (const auto& i : b.inputs)
        use_channel(inputs, i.channel, "jack " + quoted(i.jack), i.where, "input", wrong);
    if (!b.loop) return;
    // 0 stands for a number that could not be read, about which there is a complaint already.
    if (b.loop->output_channel > 0)
        use_channel(outputs, b.loop->output_channel, "the loop-back", b.loop->where, "output",
                    wrong);
    if (b.loop->input_channel > 0)
        use_channel(inputs, b.loop->input_channel, "the loop-back", b.loop->where, "input", wrong);
}

}  // namespace cvrig
