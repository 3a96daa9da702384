#include "rig/report/history_json.hpp"

#include <nlohmann/json.hpp>
#include <optional>

#include "rig/report/json_parts.hpp"
#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"
#include "rig/report/told_text.hpp"

namespace cvrig {

namespace {

using json = nlohmann::ordered_json;
using report::json_lines;
using report::json_number;
using report::json_settings;
using report::one_line;
using report::told_text;

json number(const std::optional<double>& x) {
    return x ? json_number(*x) : json{};
}

json text_or_null(const std::string& text) {
    return text.empty() ? json{} : json(one_line(text));
}

std::string document(json all) {
    json out{{"format", "cvrig history 1"}};
    out.update(all);
    return out.dump() + "\n";
}

json of(const history::stored_build& b) {
    json all{{"id", b.id},
             {"module", one_line(b.module)},
             {"name", one_line(b.name)},
             {"called", one_line(b.called())},
             {"version", one_line(b.version)},
             {"commit", one_line(b.commit)},
             {"sha256", one_line(b.sha256)},
             {"first_seen", one_line(b.first_seen)}};
    all["size_bytes"] = b.size_bytes ? json(*b.size_bytes) : json{};
    return all;
}

/// A run without its build.
json lone(const history::stored_run& r) {
    return {{"id", r.id},
            {"started", one_line(r.started)},
            {"unit", one_line(r.unit)},
            {"bench", one_line(r.bench)},
            {"verdict", in_words(r.outcome)},
            {"partial", r.is_partial},
            {"passed", r.passed},
            {"failed", r.failed},
            {"unsure", r.unsure},
            {"skipped", r.skipped}};
}

json of(const history::stored_run& r) {
    auto all = lone(r);
    all["module"] = one_line(r.build.module);
    all["link"] = one_line(r.link);
    all["build"] = of(r.build);
    return all;
}

json of(const evidence::told_check& c, const evidence::told_finding& f, double k,
        const setting_choice& shared) {
    json all{{"check", one_line(c.check)},
             {"settings", json_settings(c.choice)},
             {"telling", json_settings(without(c.choice, shared))},
             {"name", one_line(f.name)},
             {"verdict", in_words(f.outcome)},
             {"reason", text_or_null(f.reason)},
             {"limit", text_or_null(f.demand)},
             {"lower", number(f.lower)},
             {"upper", number(f.upper)},
             {"does_not_apply", f.does_not_apply},
             {"text", one_line(told_text(f, k))}};
    if (f.measured) {
        all["value"] = number(f.measured->value);
        all["unit"] = base_unit(f.measured->unit);
        all["quantity"] = report::dimension_name(f.measured->unit);
        all["standard_uncertainty"] = number(f.measured->standard_uncertainty);
        all["at"] = text_or_null(f.measured->at);
        all["measurement_version"] = f.measured->measurement_version;
    }
    if (f.answered) all["answer"] = one_line(f.answered->text);
    return all;
}

json of(const evidence::told_take& t) {
    return {{"number", t.number},
            {"attempt", t.attempt},
            {"settings", json_settings(t.choice)},
            {"length_s", number(t.length_s)},
            {"problems", json_lines(t.problems)}};
}

json of(const evidence::compared_finding& c, double k, const setting_choice& shared) {
    json all{{"check", one_line(c.check)},
             {"settings", json_settings(c.choice)},
             {"telling", json_settings(without(c.choice, shared))},
             {"name", one_line(c.name)},
             {"a_text", one_line(told_text(c.first, k))},
             {"b_text", one_line(told_text(c.second, k))},
             {"a_verdict", in_words(c.first.outcome)},
             {"b_verdict", in_words(c.second.outcome)},
             {"difference", number(c.difference)},
             {"times_allowed", number(c.times_allowed)}};
    if (c.difference)
        all["difference_text"] = one_line(show(*c.difference, c.first.measured->unit));
    return all;
}

json of(const std::vector<evidence::compared_finding>& all, const evidence::comparison& in) {
    json list = json::array();
    for (const auto& one : all) list.push_back(of(one, in.coverage_factor, in.throughout));
    return list;
}

json of(const std::vector<evidence::lone_finding>& all, const setting_choice& shared) {
    json list = json::array();
    for (const auto& one : all)
        list.push_back({{"check", one_line(one.check)},
                        {"settings", json_settings(one.choice)},
                        {"telling", json_settings(without(one.choice, shared))},
                        {"name", one_line(one.name)}});
    return list;
}

json of(const history::stored_demand& d) {
    return {{"id", d.id},
            {"module", one_line(d.module)},
            {"check", one_line(d.check)},
            {"settings", json_settings(d.choice)},
            {"telling", json_settings(d.telling)},
            {"name", one_line(d.name)},
            {"called", one_line(d.called())}};
}

json of(const history::trend_point& p, const history::trend& t) {
    json all{{"run", p.run},
             {"build", one_line(p.build)},
             {"commit", one_line(p.commit)},
             {"started", one_line(p.started)},
             {"value", number(p.reading)},
             {"standard_uncertainty", number(p.standard_uncertainty)},
             {"verdict", in_words(p.outcome)},
             {"lower", number(p.lower)},
             {"upper", number(p.upper)},
             {"measurement_version", p.measurement_version}};
    if (p.reading)
        all["text"] = one_line(
            show(*p.reading, t.coverage_factor * p.standard_uncertainty.value_or(0.0), t.unit));
    return all;
}

json of(const history::trend_change& c, const history::trend& t) {
    const auto& p = t.points[c.point];
    return {{"run", p.run},
            {"build", one_line(p.build)},
            {"commit", one_line(p.commit)},
            {"before", json_number(c.before)},
            {"after", json_number(c.after)},
            {"difference", json_number(c.after - c.before)},
            {"p", json_number(c.p)},
            {"text", one_line(show(c.before, t.unit) + " to " + show(c.after, t.unit))}};
}

json circumstances_of(const evidence::comparison& c) {
    json list = json::array();
    for (const auto& one : c.circumstances)
        list.push_back(
            {{"what", one.what}, {"a", one_line(one.first)}, {"b", one_line(one.second)}});
    return list;
}

}  // namespace

std::string runs_json(std::span<const history::stored_run> runs) {
    json list = json::array();
    for (const auto& r : runs) list.push_back(of(r));
    return document({{"runs", list}});
}

std::string builds_json(std::span<const history::build_with_runs> builds) {
    json list = json::array();
    for (const auto& b : builds) {
        auto one = of(b.build);
        one["runs"] = json::array();
        for (const auto& r : b.runs) one["runs"].push_back(lone(r));
        list.push_back(std::move(one));
    }
    return document({{"builds", list}});
}

std::string run_json(const history::stored_run& run, const evidence::told_run& told) {
    json findings = json::array(), takes = json::array();
    const auto shared = evidence::settings_throughout(told);
    for (const auto& c : told.checks)
        for (const auto& f : c.findings) findings.push_back(of(c, f, told.coverage_factor, shared));
    for (const auto& t : told.takes) takes.push_back(of(t));
    auto one = of(run);
    one["report"] = history::has_its_report(run);
    return document({{"run", one},
                     {"coverage_factor", json_number(told.coverage_factor)},
                     {"sound_s", number(told.sound_s)},
                     {"wall_s", number(told.wall_s)},
                     {"rig_version", one_line(told.rig_version)},
                     {"findings", findings},
                     {"takes", takes}});
}

std::string comparison_json(const history::stored_run& a, const history::stored_run& b,
                            const evidence::comparison& c) {
    return document({{"a", of(a)},
                     {"b", of(b)},
                     {"circumstances", circumstances_of(c)},
                     {"same_subject",
                      a.build.module == b.build.module && a.unit == b.unit && a.bench == b.bench},
                     {"coverage_factor", json_number(c.coverage_factor)},
                     {"readings", c.readings},
                     {"answers", c.answers},
                     {"by_chance", json_number(c.by_chance())},
                     {"moved", of(c.differing, c)},
                     {"other_verdicts", of(c.other_verdicts, c)},
                     {"not_compared", of(c.incomparable, c)},
                     {"only_a", of(c.only_first, c.throughout)},
                     {"only_b", of(c.only_second, c.throughout)}});
}

std::string demands_json(std::span<const history::stored_demand> demands) {
    json list = json::array();
    for (const auto& d : demands) list.push_back(of(d));
    return document({{"readings", list}});
}

std::string trend_json(const history::trend& t) {
    json points = json::array(), changes = json::array();
    for (const auto& p : t.points) points.push_back(of(p, t));
    for (const auto& c : t.changes) changes.push_back(of(c, t));
    auto reading = of(t.demand);
    reading["unit"] = base_unit(t.unit);
    reading["quantity"] = report::dimension_name(t.unit);
    return document({{"reading", reading},
                     {"of",
                      {{"module", one_line(t.of.module)},
                       {"unit", one_line(t.of.unit)},
                       {"bench", one_line(t.of.bench)}}},
                     {"coverage_factor", json_number(t.coverage_factor)},
                     {"points", points},
                     {"change_points", changes},
                     {"older_left_out", t.is_cut},
                     {"measured_otherwise_before", t.is_measured_otherwise}});
}

std::string baselines_json(std::span<const history::baseline> baselines) {
    json list = json::array();
    for (const auto& b : baselines)
        list.push_back({{"id", b.id},
                        {"approved", one_line(b.approved)},
                        {"approved_by", one_line(b.approved_by)},
                        {"note", one_line(b.note)},
                        {"run", of(b.run)}});
    return document({{"baselines", list}});
}

}  // namespace cvrig
