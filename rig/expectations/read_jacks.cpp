#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/module_sections.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

bool has_levels(const yaml_node& node) {
    return node.find("low") != nullptr || node.find("high") != nullptr;
}

/// Reads the two ends of a jack's voltages. A jack keeps 0 V for both if they are of no use.
void read_ends(const fields& f, std::string_view low_key, std::string_view high_key,
               driven_jack& jack, complaint_list& wrong) {
    const auto low = f.required_quantity(low_key, dimension::volts, "0 V");
    const auto high = f.required_quantity(high_key, dimension::volts, "5 V");
    if (!low || !high) return;
    if (*low < *high) {
        jack.low = volts{*low};
        jack.high = volts{*high};
        return;
    }
    wrong.add(f.where(),
              fmt::format("Jack {} has nothing to play between {} and {}; {} must be "
                          "below {}.",
                          quoted(jack.name), show(*low, dimension::volts),
                          show(*high, dimension::volts), quoted(low_key), quoted(high_key)));
}

driven_jack read_gate(const yaml_entry& entry, complaint_list& wrong) {
    const fields f{
        entry.value, "jack " + quoted(entry.key) + " with two levels", {"low", "high"}, wrong};
    driven_jack jack{entry.key, true, {}, {}, {}, entry.where};
    read_ends(f, "low", "high", jack, wrong);
    jack.rest = jack.low;
    return jack;
}

driven_jack read_cv(const yaml_entry& entry, complaint_list& wrong) {
    const fields f{entry.value, "jack " + quoted(entry.key), {"from", "to", "rest"}, wrong};
    driven_jack jack{entry.key, false, {}, {}, {}, entry.where};
    read_ends(f, "from", "to", jack, wrong);
    const double idle = std::clamp(0.0, jack.low.value(), jack.high.value());
    jack.rest = volts{f.quantity("rest", dimension::volts, "0 V").value_or(idle)};
    const bool known = jack.low < jack.high;
    if (known && (jack.rest < jack.low || jack.rest > jack.high)) {
        wrong.add(f.optional("rest")->where,
                  fmt::format("Jack {} cannot rest at {}; its range is {} to {}.",
                              quoted(jack.name), show(jack.rest.value(), dimension::volts),
                              show(jack.low.value(), dimension::volts),
                              show(jack.high.value(), dimension::volts)));
    }
    return jack;
}

}  // namespace

void read_drive(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* drive = root.find("drive");
    if (drive == nullptr) return;
    if (drive->what != yaml_node::kind::map || drive->entries.empty()) {
        wrong.add(drive->where,
                  "'drive' must name the jacks that the bench feeds, such as "
                  "'pitch: {from: 0 V, to: 4 V}'.");
        return;
    }
    for (const auto& entry : drive->entries) {
        if (!is_name({entry.key, entry.where}, "a jack", wrong)) continue;
        m.drive.push_back(has_levels(entry.value) ? read_gate(entry, wrong)
                                                  : read_cv(entry, wrong));
    }
}

void read_listen(const yaml_node& root, module_expectations& m, complaint_list& wrong) {
    const auto* listen = root.find("listen");
    if (listen == nullptr) return;
    m.listen_where = listen->where;
    for (const auto& jack : texts_of(*listen, "listen", wrong)) {
        if (!is_name(jack, "a jack", wrong)) continue;
        if (m.find_jack(jack.text) != nullptr) {
            wrong.add(jack.where, fmt::format("Jack {} is fed by 'drive', so it cannot be listened "
                                              "to; remove it from one of the two.",
                                              quoted(jack.text)));
        }
        m.listen.push_back(jack.text);
    }
}

}  // namespace cvrig
