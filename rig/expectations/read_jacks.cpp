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

void require_order(const driven_jack& jack, const yaml_node& node, complaint_list& wrong) {
    if (jack.low < jack.high) return;
    wrong.add(node.where,
              fmt::format("Jack {} has nothing to play between {} and {}; {} must be "
                          "below {}.",
                          quoted(jack.name), show(jack.low.value(), dimension::volts),
                          show(jack.high.value(), dimension::volts),
                          jack.is_gate ? "'low'" : "'from'", jack.is_gate ? "'high'" : "'to'"));
}

driven_jack read_gate(const yaml_entry& entry, complaint_list& wrong) {
    const fields f{
        entry.value, "jack " + quoted(entry.key) + " with two levels", {"low", "high"}, wrong};
    driven_jack jack{entry.key, true, {}, {}, {}, entry.where};
    jack.low = volts{f.required_quantity("low", dimension::volts, 0.0)};
    jack.high = volts{f.required_quantity("high", dimension::volts, jack.low.value() + 1.0)};
    jack.rest = jack.low;
    require_order(jack, entry.value, wrong);
    return jack;
}

driven_jack read_cv(const yaml_entry& entry, complaint_list& wrong) {
    const fields f{entry.value, "jack " + quoted(entry.key), {"from", "to", "rest"}, wrong};
    driven_jack jack{entry.key, false, {}, {}, {}, entry.where};
    if (!f.usable()) {
        jack.high = volts{1.0};
        return jack;
    }
    jack.low = volts{f.required_quantity("from", dimension::volts, 0.0)};
    jack.high = volts{f.required_quantity("to", dimension::volts, jack.low.value() + 1.0)};
    require_order(jack, entry.value, wrong);
    if (!(jack.low < jack.high)) return jack;
    const double idle = std::clamp(0.0, jack.low.value(), jack.high.value());
    jack.rest = volts{f.quantity("rest", dimension::volts, idle)};
    if (jack.rest < jack.low || jack.rest > jack.high) {
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
