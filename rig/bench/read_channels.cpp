#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <set>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// No jack of a module takes more, and no interface gives more.
constexpr double highest_volts = 12.0;

/// The jack of one channel; complains about one that another channel has already.
std::string jack_of(const fields& f, std::set<std::string>& taken, complaint_list& wrong) {
    const auto* node = f.required("jack");
    if (node == nullptr) return {};
    auto jack = text_of(*node, "jack", wrong);
    if (jack.empty() || !is_name({jack, node->where}, "a jack", wrong)) return {};
    if (!taken.insert(jack).second) {
        wrong.add(node->where,
                  fmt::format("Jack {} has a channel already; keep one of the two.", quoted(jack)));
    }
    return jack;
}

/// What the channel itself can give, whatever the limits say.
range reach_of(const channel_trim& trim) {
    const double span = std::abs(trim.volts_per_full_scale);
    return {trim.offset.value() - span, trim.offset.value() + span};
}

void read_limits(const fields& f, bench_output& out, bool has_channels, complaint_list& wrong) {
    const auto reach = has_channels ? reach_of(out.trim) : range{-highest_volts, highest_volts};
    const auto* node = f.optional("limits");
    if (node == nullptr) {
        out.lowest = std::max(out.lowest, volts{reach.low});
        out.highest = std::min(out.highest, volts{reach.high});
        return;
    }
    const auto limits = range_of(*node, "limits", dimension::volts, wrong);
    if (!limits) return;
    if (limits->low < -highest_volts || limits->high > highest_volts) {
        wrong.add(node->where, fmt::format("{} is more than a module takes; stay within -12 V to "
                                           "12 V.",
                                           quoted(node->text)));
    } else if (limits->low > 0.0 || limits->high < 0.0) {
        wrong.add(node->where, fmt::format("{} leaves out 0 V, to which every output returns.",
                                           quoted(node->text)));
    } else if (limits->low < reach.low || limits->high > reach.high) {
        wrong.add(node->where,
                  fmt::format("{} is more than this channel can give, which is {} to {} by its "
                              "'full scale' and 'offset'.",
                              quoted(node->text), show(reach.low, dimension::volts),
                              show(reach.high, dimension::volts)));
    }
    out.lowest = volts{limits->low};
    out.highest = volts{limits->high};
}

std::vector<std::string> with_channel_keys(std::vector<std::string> keys, bool has_channels) {
    if (has_channels) keys.insert(keys.end(), {"channel", "full scale", "offset", "socket"});
    return keys;
}

/// The keys that only a channel of an interface has, of an output or an input.
template <class Channel>
void read_interface_channel(const fields& f, Channel& out, complaint_list& wrong) {
    out.channel = read_channel_number(f, "channel", wrong).value_or(out.channel);
    auto& trim = out.trim;
    trim.volts_per_full_scale =
        read_full_scale(f, "full scale", wrong).value_or(trim.volts_per_full_scale);
    trim.offset = volts{f.quantity("offset", dimension::volts, "2 mV").value_or(0.0)};
    if (const auto* socket = f.optional("socket")) out.socket = text_of(*socket, "socket", wrong);
}

/// The items of a list of channels; complains about any other form.
const std::vector<yaml_node>& channels_of(const yaml_node& node, std::string_view key,
                                          complaint_list& wrong) {
    constexpr std::size_t most = 64;
    if (node.what != yaml_node::kind::list || node.items.empty() || node.items.size() > most) {
        wrong.add(node.where,
                  fmt::format("{} must be a list of 1 to {} channels, such as '- {{jack: "
                              "{}}}'.",
                              quoted(key), most, key == "inputs" ? "left" : "pitch"));
    }
    return node.items;
}

}  // namespace

std::optional<double> read_uncertainty(const fields& f, const std::string& example,
                                       complaint_list& wrong) {
    const auto unit = parse_measure(example)->unit;
    const auto v = f.quantity("uncertainty", unit, example);
    if (!v || *v >= 0.0) return v;
    wrong.add(f.optional("uncertainty")->where, "An uncertainty cannot be below 0.");
    return std::nullopt;
}

std::vector<bench_output> read_outputs(const yaml_node& node, bool has_channels,
                                       complaint_list& wrong) {
    std::vector<bench_output> out;
    std::set<std::string> taken;
    for (const auto& item : channels_of(node, "outputs", wrong)) {
        const fields f{item, "an output",
                       with_channel_keys({"jack", "limits", "uncertainty"}, has_channels), wrong};
        if (!f.usable()) continue;
        bench_output channel;
        channel.jack = jack_of(f, taken, wrong);
        channel.channel = out.size() + 1;
        read_interface_channel(f, channel, wrong);
        read_limits(f, channel, has_channels, wrong);
        channel.u = volts{read_uncertainty(f, "0.2 mV", wrong).value_or(channel.u.value())};
        channel.where = item.where;
        out.push_back(std::move(channel));
    }
    return out;
}

std::vector<bench_input> read_inputs(const yaml_node& node, bool has_channels,
                                     complaint_list& wrong) {
    std::vector<bench_input> out;
    std::set<std::string> taken;
    for (const auto& item : channels_of(node, "inputs", wrong)) {
        const fields f{item, "an input", with_channel_keys({"jack", "uncertainty"}, has_channels),
                       wrong};
        if (!f.usable()) continue;
        bench_input channel;
        channel.jack = jack_of(f, taken, wrong);
        channel.channel = out.size() + 1;
        read_interface_channel(f, channel, wrong);
        channel.u_gain_percent =
            read_uncertainty(f, "0.5 %", wrong).value_or(channel.u_gain_percent);
        channel.where = item.where;
        out.push_back(std::move(channel));
    }
    return out;
}

}  // namespace cvrig
