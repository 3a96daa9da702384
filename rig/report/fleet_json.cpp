#include "rig/report/fleet_json.hpp"

#include <cmath>
#include <nlohmann/json.hpp>

#include "rig/report/fleet_story.hpp"
#include "rig/report/json_parts.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

using json = nlohmann::ordered_json;
using report::json_lines;
using report::json_number;
using report::json_settings;
using report::one_line;

json of(const tracked_note& n);
json of(const fleet_unit& u);
json of(const worst_note& w);
json of(const kept_count& c);
json of(const default_choice& d);
json of(const unseen_share& s);
json of(const unseen_worst& w);
json of(const normal_bound::bound& b);
json of(const normal_bound& n);
json of(const spread& s);
json of(const outlier& o);
json of(const scatter_source& s);
json of(const shift_at& e);
json of(const build_change& c);

template <class T>
json list_of(const std::vector<T>& all) {
    json list = json::array();
    for (const auto& one : all) list.push_back(of(one));
    return list;
}

json of(const pitch_constants& c) {
    return {{"offset_volts", json_number(c.offset_volts)},
            {"gain_volts_per_code", json_number(c.gain_volts_per_code)}};
}

json of(const told_cents& t) {
    return {{"cents", json_number(t.cents)}, {"u_cents", json_number(t.u_cents)}};
}

json of(const std::optional<told_cents>& t) {
    return t ? of(*t) : json(nullptr);
}

json of(const tracked_note& n) {
    return {{"at_volts", json_number(n.at_volts)},
            {"error_cents", json_number(n.error_cents)},
            {"u_cents", json_number(n.u_cents)},
            {"upward", n.upward}};
}

json of(const fleet_unit& u) {
    return {{"unit", one_line(u.name)},
            {"started", one_line(u.started)},
            {"bench", one_line(u.bench)},
            {"reckoned", u.is_converted},
            {"gain_per_octave", of(u.traits.gain)},
            {"offset", of(u.traits.offset)},
            {"straightness", of(u.traits.straightness)},
            {"straightness_at_volts", json_number(u.traits.straightness_at_volts)},
            {"hysteresis", of(u.traits.hysteresis)},
            {"scatter", of(u.traits.scatter)},
            {"u_common_cents", json_number(u.u_common_cents)},
            {"notes", list_of(u.notes)}};
}

json of(const worst_note& w) {
    return {{"error_cents", json_number(w.error_cents)},
            {"u_cents", json_number(w.u_cents)},
            {"at_volts", json_number(w.at_volts)}};
}

json of(const kept_count& c) {
    return {{"limit_cents", json_number(c.limit_cents)},
            {"within", c.within},
            {"outside", c.outside},
            {"undecided", c.undecided}};
}

json of(const default_choice& d) {
    json all{{"default", report::in_words(d.kind)},
             {"multiply_both_by", json_number(d.change.gain)},
             {"then_add_offset_volts", json_number(d.change.offset_volts)},
             {"worst_cents", json_number(d.worst_cents())},
             {"median_cents", json_number(d.median_cents())},
             {"moves_low_cents", json_number(d.moves_low_cents)},
             {"moves_high_cents", json_number(d.moves_high_cents)},
             {"held_by", json_lines(d.held_by)},
             {"kept", list_of(d.kept)},
             {"worst_of_units", list_of(d.worst)},
             {"kept_unseen", list_of(d.kept_unseen)},
             {"worst_of_units_unseen", list_of(d.worst_unseen)}};
    if (d.constants) all["constants"] = of(*d.constants);
    return all;
}

json of(const unseen_share& s) {
    return {{"default", report::in_words(s.kind)},
            {"counted", of(s.counted)},
            {"lower", json_number(s.lower)},
            {"upper", json_number(s.upper)}};
}

json of(const unseen_worst& w) {
    return {{"default", report::in_words(w.kind)},
            {"worst_cents", json_number(w.worst_cents)},
            {"u_cents", json_number(w.u_cents)},
            {"share", json_number(w.share)}};
}

json of(const normal_bound::bound& b) {
    return {{"default", report::in_words(b.kind)}, {"cents", json_number(b.cents)}};
}

json of(const normal_bound& n) {
    return {{"at_volts", json_number(n.at_volts)},
            {"units", n.units},
            {"mean_cents", json_number(n.mean_cents)},
            {"sd_cents", json_number(n.sd_cents)},
            {"anderson_darling", json_number(n.anderson_darling)},
            {"p", json_number(n.p)},
            {"speaks", n.speaks},
            {"why_not", one_line(n.why_not)},
            {"bounds", list_of(n.bounds)}};
}

json of(const spread& s) {
    return {{"trait", in_words(s.what)},
            {"units", s.units},
            {"median_cents", json_number(s.median_cents)},
            {"robust_sd_cents", json_number(s.robust_sd_cents)},
            {"lowest_cents", json_number(s.lowest_cents)},
            {"highest_cents", json_number(s.highest_cents)}};
}

json of(const outlier& o) {
    return {{"unit", one_line(o.unit)},
            {"trait", in_words(o.what)},
            {"cents", json_number(o.cents)},
            {"median_cents", json_number(o.median_cents)},
            {"u_cents", json_number(o.u_cents)},
            {"score", json_number(o.score)},
            {"at_volts", json_number(o.at_volts)},
            {"points_to", one_line(o.points_to)}};
}

json of(const scatter_part& p) {
    return {{"cents", json_number(p.cents)},
            {"lower_cents", json_number(p.lower_cents)},
            {"upper_cents", json_number(p.upper_cents)},
            {"share", json_number(p.share)}};
}

json of(const scatter_source& s) {
    return {{"trait", in_words(s.what)},
            {"units", of(s.units)},
            {"builds", of(s.builds)},
            {"rest", of(s.rest)}};
}

json of(const shift_at& e) {
    return {{"at_volts", json_number(e.at_volts)},        {"mean_cents", json_number(e.mean_cents)},
            {"low_cents", json_number(e.low_cents)},      {"high_cents", json_number(e.high_cents)},
            {"least_cents", json_number(e.least_cents)},  {"most_cents", json_number(e.most_cents)},
            {"u_unit_cents", json_number(e.u_unit_cents)}};
}

std::string_view verdict_of(build_change::verdict v) {
    switch (v) {
        case build_change::verdict::none:
            return "none";
        case build_change::verdict::calibrate:
            return "all";
        case build_change::verdict::some:
            return "some";
        case build_change::verdict::cannot_tell:
            return "cannot tell";
    }
    return "cannot tell";
}

json of(const build_change& c) {
    return {{"from", one_line(c.from)},
            {"to", one_line(c.to)},
            {"units", json_lines(c.units)},
            {"constants", c.under_own ? "own" : "default"},
            {"reckoned", c.reckoned},
            {"ends", list_of(c.ends)},
            {"benches_cents", json_number(c.benches_cents)},
            {"calibrated_between", json_lines(c.calibrated_between)},
            {"must_calibrate", verdict_of(c.says)},
            {"units_moved", c.moved},
            {"why_not", one_line(c.why)}};
}

json chosen(const fleet_selection& s) {
    json all{{"module", one_line(s.module)},
             {"settings", json_settings(s.choice)},
             {"build", one_line(s.build)},
             {"builds", json_lines(s.builds)},
             {"records", s.of_choice.size()},
             {"volts_per_octave", json_number(s.volts_per_octave)},
             {"low_volts", json_number(s.low_volts)},
             {"high_volts", json_number(s.high_volts)},
             {"reference_volts", json_number(s.reference_volts)}};
    if (s.default_constants) all["default_constants"] = of(*s.default_constants);
    return all;
}

}  // namespace

std::string fleet_json(const fleet_answer& a, const std::string& rig_version) {
    const auto story = report::story_of(a);
    json all{{"format", "cvrig fleet 1"},
             {"rig_version", rig_version},
             {"answers", json_lines(story.answers())},
             {"remarks", json_lines(story.remarks)},
             {"limit_cents", json_number(a.asked.limit_cents)},
             {"coverage_factor", json_number(a.asked.coverage_factor)}};
    all.update(chosen(a.chosen));
    all["units"] = list_of(a.chosen.units);
    all["defaults"] = list_of(a.defaults);
    all["unseen_shares"] = list_of(a.unseen);
    all["unseen_worst"] = list_of(a.unseen_worst_units);
    all["normal"] = list_of(a.normal);
    all["spreads"] = list_of(a.odd.spreads);
    all["odd_units"] = list_of(a.odd.outliers);
    all["odd_units_why_not"] = one_line(a.odd.why_not);
    all["scatter"] = {{"records", a.scatter.records},
                      {"units", a.scatter.units},
                      {"builds", a.scatter.builds},
                      {"repeats", a.scatter.repeats},
                      {"builds_told", a.scatter.builds_told},
                      {"sources", list_of(a.scatter.sources)},
                      {"why_not", one_line(a.scatter.why_not)}};
    all["build_changes"] = list_of(a.changes);
    return all.dump(2) + "\n";
}

}  // namespace cvrig
