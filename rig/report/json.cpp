#include "rig/report/json.hpp"

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>

#include "rig/report/clip_file.hpp"
#include "rig/report/json_parts.hpp"
#include "rig/report/phrases.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

using json = nlohmann::ordered_json;
using report::json_lines;
using report::json_number;
using report::json_settings;
using report::one_line;

json numbers(const std::vector<double>& all) {
    json list = json::array();
    for (const double x : all) list.push_back(json_number(x));
    return list;
}

json of(const reading& r, double coverage_factor) {
    json budget = json::array();
    for (const auto& part : r.budget) {
        budget.push_back({{"source", one_line(part.name)},
                          {"standard_uncertainty", json_number(part.standard_uncertainty)}});
    }
    return {{"value", json_number(r.value)},
            {"unit", base_unit(r.unit)},
            {"quantity", report::dimension_name(r.unit)},
            {"standard_uncertainty", json_number(r.standard_uncertainty)},
            {"expanded_uncertainty", json_number(coverage_factor * r.standard_uncertainty)},
            {"budget", budget},
            {"at", one_line(r.at)}};
}

json of(const answer& a) {
    return {{"text", one_line(a.text)},
            {"probability", json_number(a.probability)},
            {"probability_of_expected", json_number(a.probability_of_expected)},
            {"at", one_line(a.at)}};
}

json of(const limit& l) {
    json all{{"text", one_line(l.text)}, {"unit", base_unit(l.unit)}};
    if (l.lower) all["lower"] = json_number(*l.lower);
    if (l.upper) all["upper"] = json_number(*l.upper);
    if (l.nominal) all["nominal"] = json_number(*l.nominal);
    return all;
}

json of(const finding& f, double coverage_factor) {
    json all{{"name", one_line(f.name)}, {"verdict", in_words(f.outcome)}};
    if (!f.reason.empty()) all["reason"] = one_line(f.reason);
    if (f.measured) all["reading"] = of(*f.measured, coverage_factor);
    if (f.answered) all["answer"] = of(*f.answered);
    if (f.allowed) all["limit"] = of(*f.allowed);
    if (f.expected) all["expected"] = one_line(f.expected->text);
    if (f.does_not_apply) all["does_not_apply"] = true;
    if (!f.notes.empty()) all["notes"] = json_lines(f.notes);
    return all;
}

json of(const plot& p) {
    json curves = json::array(), bands = json::array();
    for (const auto& c : p.curves) {
        curves.push_back({{"name", one_line(c.name)},
                          {"drawn", c.drawn == series::look::line ? "line" : "points"},
                          {"x", numbers(c.x)},
                          {"y", numbers(c.y)},
                          {"standard_uncertainty", numbers(c.u)}});
    }
    for (const auto& b : p.bands) {
        json one{{"name", one_line(b.name)}};
        if (b.lower) one["lower"] = json_number(*b.lower);
        if (b.upper) one["upper"] = json_number(*b.upper);
        bands.push_back(one);
    }
    return {{"title", one_line(p.title)},
            {"x_label", one_line(p.x_label)},
            {"y_label", one_line(p.y_label)},
            {"note", one_line(p.note)},
            {"curves", curves},
            {"bands", bands}};
}

json sounds_of(const check_result& c) {
    json all = json::array();
    for (const auto& clip : c.clips)
        all.push_back({{"name", one_line(clip.name)},
                       {"file", report::clip_file(c, clip)},
                       {"volts_of_full_scale", json_number(report::clip_full_scale.value())}});
    return all;
}

json of(const check_result& c, double coverage_factor) {
    json findings = json::array(), plots = json::array();
    for (const auto& f : c.findings) findings.push_back(of(f, coverage_factor));
    for (const auto& p : c.plots) plots.push_back(of(p));
    json all{{"check", one_line(c.check)},
             {"reads", one_line(c.reads)},
             {"settings", json_settings(c.choice)},
             {"verdict", in_words(c.outcome())},
             {"attempts", c.attempts},
             {"measurement_version", c.measurement_version},
             {"findings", findings},
             {"plots", plots}};
    if (c.likeliest) {
        all["diagnosis"] = {{"cause", one_line(c.likeliest->cause)},
                            {"sentence", one_line(c.likeliest->sentence)}};
        if (!c.likeliest->follows_from.empty())
            all["diagnosis"]["follows_from"] = one_line(c.likeliest->follows_from);
    }
    if (!c.clips.empty()) all["sounds"] = sounds_of(c);
    return all;
}

json of(const take_summary& t) {
    json all{{"number", t.number},
             {"settings", json_settings(t.choice)},
             {"length_s", json_number(t.length.value())},
             {"checks", json_lines(t.checks)},
             {"attempt", t.attempt},
             {"problems", json_lines(t.problems)},
             {"log", report::printable(t.log)}};
    if (!t.skipped.empty()) all["skipped"] = one_line(t.skipped);
    if (!t.module_faults.empty()) all["module_faults"] = json_lines(t.module_faults);
    if (!t.module_doubts.empty()) all["module_doubts"] = json_lines(t.module_doubts);
    return all;
}

json of(const bench_account& b, double coverage_factor) {
    json proofs = json::array();
    for (const auto& p : b.proofs) proofs.push_back(of(p, coverage_factor));
    return {{"verdict", in_words(b.outcome())},
            {"proofs", proofs},
            {"facts", json_lines(b.facts)},
            {"cannot_exclude", json_lines(b.cannot_exclude)}};
}

json of(const preparation& p) {
    json steps = json::array();
    for (const auto& s : p.steps)
        steps.push_back({{"step", s.step},
                         {"command", one_line(s.command)},
                         {"output", report::printable(s.output)},
                         {"left_out_bytes", s.left_out_bytes},
                         {"took_s", json_number(s.took.value())},
                         {"time_limit_s", json_number(s.time_limit.value())}});
    return {{"steps", steps}, {"facts", json_lines(p.facts)}};
}

json file(const std::string& name, const std::string& sha256) {
    return {{"file", one_line(name)}, {"sha256", one_line(sha256)}};
}

json build_of(const run_result& run) {
    auto all = json{{"name", one_line(run.build_name)}, {"sha256", one_line(run.build_sha256)}};
    if (!run.build_commit.empty()) all["commit"] = one_line(run.build_commit);
    if (!run.build_version.empty()) all["version"] = one_line(run.build_version);
    if (run.build_size_bytes) all["size_bytes"] = *run.build_size_bytes;
    return all;
}

json counts(const run_result& run) {
    json all;
    for (const auto v : {verdict::pass, verdict::fail, verdict::unsure, verdict::skipped}) {
        all[std::string{in_words(v)}] = run.count(v);
    }
    return all;
}

}  // namespace

std::string json_report(const run_result& run) {
    json takes = json::array(), checks = json::array();
    for (const auto& t : run.takes) takes.push_back(of(t));
    for (const auto& c : run.checks) checks.push_back(of(c, run.coverage_factor));
    json bench{{"name", one_line(run.bench_name)}, {"link", one_line(run.link)}};
    if (!run.bench.is_empty()) bench["account"] = of(run.bench, run.coverage_factor);
    json all{{"format", "cvrig report 1"},
             {"verdict", in_words(run.outcome())},
             {"counts", counts(run)},
             {"module", one_line(run.module)},
             {"build", build_of(run)},
             {"unit", one_line(run.unit)},
             {"bench", bench},
             {"expectations_file", file(run.expectations_file, run.expectations_sha256)},
             {"bench_file", file(run.bench_file, run.bench_sha256)},
             {"rig_version", one_line(run.rig_version)},
             {"started", one_line(run.started)},
             {"sound_s", json_number(run.sound.value())},
             {"analysis_cpu_s", json_number(run.analysis_cpu.value())},
             {"wall_s", json_number(run.wall.value())},
             {"coverage_factor", json_number(run.coverage_factor)},
             {"takes", takes},
             {"checks", checks}};
    if (run.is_partial) all["partial"] = true;
    if (!run.prepared.steps.empty()) all["preparation"] = of(run.prepared);
    return all.dump(2) + "\n";
}

}  // namespace cvrig
