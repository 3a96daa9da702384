#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/nearest.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

bool mentions(const std::vector<std::string>& command, std::string_view placeholder) {
    return std::any_of(command.begin(), command.end(), [&](const std::string& a) {
        return a.find(placeholder) != std::string::npos;
    });
}

void read_command(const yaml_node& node, program_link_settings& link, complaint_list& wrong) {
    for (const auto& a :
         read_command_line(node, "program", "[./render, \"{stimulus}\", \"{response}\"]", wrong)) {
        if (a.text != "{settings}" && a.text.find("{settings}") != std::string::npos) {
            wrong.add(a.where, "\"{settings}\" becomes several arguments, so it must stand alone.");
        }
        link.command.push_back(a.text);
    }
    if (link.command.empty()) return;
    if (link.command.front().empty()) {
        wrong.add(node.where, "'program' must begin with the command to run.");
    }
    for (const auto* needed : {"{stimulus}", "{response}"}) {
        if (!mentions(link.command, needed)) {
            wrong.add(node.where, fmt::format("'program' needs an argument \"{}\", which becomes a "
                                              "file name.",
                                              needed));
        }
    }
}

void read_rate(const fields& f, program_link_settings& link, complaint_list& wrong) {
    const double hz = f.quantity("rate", dimension::hertz, "48 kHz").value_or(link.rate.value());
    if (hz >= 8e3 && hz <= 384e3 && hz == std::round(hz)) {
        link.rate = sample_rate{hz};
    } else {
        wrong.add(f.optional("rate")->where,
                  fmt::format("'rate' must be a whole number of Hz from 8 kHz to 384 kHz, and here "
                              "is {}.",
                              show(hz, dimension::hertz, 8)));
    }
}

void read_time_limit(const fields& f, program_link_settings& link, complaint_list& wrong) {
    const double s =
        f.quantity("time limit", dimension::seconds, "60 s").value_or(link.time_limit.value());
    if (s > 0.0 && s <= 3600.0) {
        link.time_limit = seconds{s};
    } else {
        wrong.add(f.optional("time limit")->where,
                  fmt::format("'time limit' must be above 0 s and at most 3600 s, and here is {}.",
                              show(s, dimension::seconds)));
    }
}

void read_hold(const fields& f, program_link_settings& link, complaint_list& wrong) {
    const auto* node = f.optional("hold");
    if (node == nullptr) return;
    link.hold = text_of(*node, "hold", wrong);
    for (const auto* hole : {"{jack}", "{volts}"})
        if (!link.hold.empty() && link.hold.find(hole) == std::string::npos)
            wrong.add(
                node->where,
                fmt::format("'hold' is a line for the console that says which voltage is held "
                            "at which jack; it must contain {}.",
                            hole));
}

program_link_settings read_program_link(const yaml_node& node, complaint_list& wrong) {
    program_link_settings link;
    link.where = node.where;
    const fields f{node, "'link'", {"program", "rate", "time limit", "hold"}, wrong};
    if (!f.usable()) return link;
    if (const auto* program = f.required("program")) read_command(*program, link, wrong);
    read_rate(f, link, wrong);
    read_time_limit(f, link, wrong);
    read_hold(f, link, wrong);
    return link;
}

/// Complains about a link that is neither a program nor an interface.
void refuse_link(const yaml_node& node, complaint_list& wrong) {
    const std::vector<std::string> kinds{"program", "audio"};
    for (const auto& e : node.entries) {
        if (nearest(e.key, kinds)) {
            wrong.add(e.where, not_one_of(e.key, "a kind of link", kinds));
            return;
        }
    }
    wrong.add(node.where,
              "'link' needs the key 'program' (a command that stands for the module) "
              "or 'audio' (the name of an audio interface).");
}

}  // namespace

void read_link(const yaml_node& node, bench& b, complaint_list& wrong) {
    const auto* program = node.find("program");
    const auto* audio = node.find("audio");
    b.program.where = node.where;
    if (program != nullptr && audio != nullptr) {
        wrong.add(audio->where, "A link has either 'program' or 'audio'; keep one of the two.");
    } else if (audio != nullptr) {
        b.audio = read_audio_link(node, wrong);
    } else if (program != nullptr || node.what != yaml_node::kind::map) {
        b.program = read_program_link(node, wrong);
    } else {
        refuse_link(node, wrong);
    }
}

}  // namespace cvrig
