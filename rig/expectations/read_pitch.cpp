#include <fmt/format.h>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/module_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// The key that names the reference voltage, such as "at 0 V"; null if there is none.
const yaml_entry* reference_of(const yaml_node& pitch) {
    for (const auto& e : pitch.entries) {
        if (e.key.starts_with("at ")) return &e;
    }
    return nullptr;
}

void read_reference(const yaml_entry& entry, pitch_law& law, complaint_list& wrong) {
    const auto at = parse_quantity(entry.key.substr(3), {dimension::volts, "at", "at 0 V"});
    if (at) law.at = volts{*at};
    if (!at) wrong.add(entry.where, at.error());
    const auto f = quantity_of(entry.value, {dimension::hertz, entry.key, "C2"}, wrong);
    if (!f) return;
    if (*f > 0.0) {
        law.reference = hertz{*f};
    } else {
        wrong.add(entry.value.where, fmt::format("{} is not a frequency above 0; write a note such "
                                                 "as C2, or Hz.",
                                                 quoted(entry.value.text)));
    }
}

void read_scale(const fields& f, pitch_law& law, complaint_list& wrong) {
    const auto v = f.required_quantity("per octave", dimension::volts, "1 V");
    if (!v) return;
    if (*v > 0.0) {
        law.per_octave = volts{*v};
    } else {
        wrong.add(f.optional("per octave")->where,
                  fmt::format("'per octave' must be above 0 V, and here is {}.",
                              show(*v, dimension::volts)));
    }
}

}  // namespace

void read_pitch(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* pitch = root.find("pitch");
    if (pitch == nullptr) return;
    const auto* reference = reference_of(*pitch);
    const fields f{
        *pitch, "'pitch'", {reference == nullptr ? "at 0 V" : reference->key, "per octave"}, wrong};
    if (!f.usable()) return;
    if (reference == nullptr) {
        wrong.add(pitch->where,
                  "'pitch' needs a key that says which note sounds at which voltage, such as "
                  "'at 0 V: C2'.");
    } else {
        read_reference(*reference, m.pitch, wrong);
    }
    read_scale(f, m.pitch, wrong);
}

}  // namespace cvrig
