#include "rig/report/patch_text.hpp"

#include <fmt/format.h>

#include "rig/bench/sockets.hpp"
#include "rig/report/ink.hpp"
#include "rig/report/paragraphs.hpp"
#include "rig/report/text.hpp"
#include "rig/run/cable_sentences.hpp"

namespace cvrig {

namespace {

using report::ink;

std::string headline(const patch_result& found, const ink& pen) {
    const auto v = found.as_wired ? verdict::pass : verdict::unsure;
    const char* text = "The cables are not as the bench file says; nothing can be judged.";
    if (found.as_wired)
        text = found.cannot_exclude.empty() ? "Every cable is where the bench file says."
                                            : "No cable speaks against the bench file.";
    return fmt::format("{}  {}\n", pen.tinted(v, pen.mark(v)), pen.strong(text));
}

std::string where_heard(const patch_result& found, const std::string& output) {
    std::vector<std::string> jacks;
    for (const auto& [jack, outputs] : found.reached_by)
        for (const auto& o : outputs)
            if (o == output) jacks.push_back(jack);
    return jacks.empty() ? "not heard" : "jack " + patching::list_of(jacks);
}

void add_places(std::string& out, const patch_result& found, const bench& b, const ink& pen) {
    std::size_t widest = 0;
    for (const auto& o : b.outputs)
        widest = std::max(widest, report::columns_of(pen.text(socket_of(o))));
    for (const auto& o : b.outputs)
        out += fmt::format("  {}{}\n", report::padded(pen.text(socket_of(o)), widest + 2),
                           pen.text(where_heard(found, o.jack)));
}

}  // namespace

std::string patch_text(const patch_result& found, const bench& b, const terminal_style& style) {
    const ink pen{style};
    std::string out = headline(found, pen);
    add_places(out, found, b, pen);
    report::add_paragraphs(out, "What is wrong", found.sentences, pen);
    report::add_paragraphs(out, "What could not be told", found.cannot_exclude, pen);
    out += pen.faint(fmt::format("\n{:.1f} s of sound.\n", found.played.value()));
    return out;
}

}  // namespace cvrig
