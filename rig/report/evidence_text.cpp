#include "rig/report/evidence_text.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/evidence/member_name.hpp"
#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig {

namespace {

using evidence::manifest;
using report::counted;

std::string size_text(std::uintmax_t bytes) {
    const double n = static_cast<double>(bytes);
    if (n < 1e6) return fmt::format("{:.0f} kB", std::max(n / 1e3, 1.0));
    return n < 1e9 ? fmt::format("{:.1f} MB", n / 1e6) : fmt::format("{:.1f} GB", n / 1e9);
}

std::string what_was_judged(const manifest& m) {
    std::string out = m.module;
    if (!m.build_name.empty()) out += ", build " + m.build_name;
    if (!m.unit.empty()) out += ", unit " + m.unit;
    return out;
}

std::size_t takes_in(const manifest& m) {
    return static_cast<std::size_t>(std::ranges::count_if(
        m.members, [](const auto& one) { return one.name.ends_with("/take.json"); }));
}

/// Takes that no FLAC can hold are worth a word.
std::vector<std::string> kept_as_wave(const manifest& m) {
    std::vector<std::string> out;
    for (const auto& one : m.members)
        if (one.sound && !one.sound->why_wave.empty())
            out.push_back(fmt::format("{} is WAV and not FLAC: {}", one.name, one.sound->why_wave));
    return out;
}

}  // namespace

std::string evidence_text(const evidence::packed_run& packed, const terminal_style& style) {
    const report::ink pen{style};
    const auto& m = packed.what;
    auto out =
        fmt::format("{}\n{}\n", pen.strong(packed.file.string()),
                    pen.text(fmt::format("{}: {}, {} (kept: {})", what_was_judged(m),
                                         counted(takes_in(m), "take", "takes"),
                                         size_text(packed.bytes), size_text(packed.bytes_before))));
    report::add_paragraphs(out, "Left out or replaced", m.left_out, pen);
    report::add_paragraphs(out, "Look at this before you give it away", packed.stays, pen);
    report::add_paragraphs(out, "Sound", kept_as_wave(m), pen);
    out += fmt::format("\nFingerprint: {}\n", packed.fingerprint);
    return out;
}

std::string evidence_text(const evidence::unpacked_run& opened, const terminal_style& style) {
    const report::ink pen{style};
    const auto& m = opened.what;
    auto out =
        pen.text(fmt::format("Evidence: {}; run on {} at bench {}, read by cvrig {}, packed by "
                             "cvrig {}.",
                             what_was_judged(m), m.started, m.bench_name, m.read_by, m.packed_by));
    if (m.image && !m.image->is_inside)
        out += "\nThe firmware file is not inside: what was read of it stands as it was packed.";
    out += fmt::format(
        "\nIt is whole: {} and their hashes are as the manifest says.\nFingerprint: {}\n\n",
        counted(m.members.size(), "member", "members"), opened.fingerprint);
    return out;
}

}  // namespace cvrig
