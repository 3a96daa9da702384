#include "rig/expectations/value_in_words.hpp"

#include <fmt/format.h>

#include <cmath>

#include "rig/expectations/limit.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::string in_volts(volts v) {
    return show(v.value(), dimension::volts, 6);
}

std::string_view in_words(note_stair::direction d) {
    switch (d) {
        case note_stair::direction::up:
            return "going up";
        case note_stair::direction::down:
            return "going down";
        case note_stair::direction::up_and_down:
            return "up and then down";
    }
    return "";
}

std::string in_words(const note_stair& s, const pitch_law& law) {
    return fmt::format("{} notes from {} to {}, one every {} ({}), {}", notes_one_way(s),
                       in_volts(s.from), in_volts(s.to), show(s.every.value(), dimension::volts),
                       show(law.per_volt(s.every).value(), dimension::cents), in_words(s.order));
}

std::string in_words(const std::vector<voltage_step>& steps) {
    std::vector<std::string> all;
    all.reserve(steps.size());
    for (const auto& s : steps) {
        all.push_back(fmt::format("{} to {}", in_volts(s.from), in_volts(s.to)));
    }
    return listed(all);
}

std::string in_words(const std::vector<memory_region>& regions) {
    std::vector<std::string> all;
    all.reserve(regions.size());
    for (const auto& r : regions)
        all.push_back(fmt::format("{} {} (of {} from 0x{:08X})", in_words(r.used), r.name,
                                  show(static_cast<double>(r.size), dimension::bytes), r.from));
    return listed(all);
}

}  // namespace

int notes_one_way(const note_stair& s) noexcept {
    // A millionth of a step is above rounding, so that 4 V in semitones ends at 4 V.
    return static_cast<int>(std::floor((s.to - s.from) / s.every + 1e-6)) + 1;
}

std::string in_words(const value& v, const pitch_law& law) {
    if (const auto* l = std::get_if<limit>(&v)) return in_words(*l);
    if (const auto* w = std::get_if<word>(&v)) return w->text;
    if (const auto* m = std::get_if<measure>(&v)) return show(m->in_base_unit, m->unit);
    if (const auto* s = std::get_if<note_stair>(&v)) return in_words(*s, law);
    if (const auto* r = std::get_if<std::vector<memory_region>>(&v)) return in_words(*r);
    if (const auto* p = std::get_if<text_pattern>(&v)) return cvrig::quoted(p->text);
    if (const auto* n = std::get_if<setting_name>(&v)) return n->text;
    return in_words(std::get<std::vector<voltage_step>>(v));
}

}  // namespace cvrig
