#include "rig/history/export.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <limits>
#include <nlohmann/json.hpp>

#include "rig/history/told_words.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::history {

namespace {

/// RFC 4180, 2.6 and 2.7.
std::string field(const std::string& text) {
    if (text.find_first_of(",\"\r\n") == std::string::npos) return text;
    std::string out = "\"";
    for (const char c : text) {
        if (c == '"') out += '"';
        out += c;
    }
    return out + '"';
}

/// All digits, so that nothing is lost; empty where there is none.
std::string field(const std::optional<double>& x) {
    return x ? fmt::format("{}", *x) : std::string{};
}

void add_line(std::ostream& out, const std::vector<std::string>& fields) {
    for (std::size_t i = 0; i < fields.size(); ++i) out << (i == 0 ? "" : ",") << fields[i];
    out << "\r\n";
}

std::vector<std::string> run_fields(const stored_run& r) {
    return {fmt::format("{}", r.id), field(r.started),       field(r.build.module),
            field(r.build.name),     field(r.build.version), field(r.build.commit),
            field(r.build.sha256),   field(r.unit),          field(r.bench)};
}

std::vector<std::string> finding_fields(const evidence::told_check& c,
                                        const evidence::told_finding& f) {
    const auto read = f.measured.value_or(evidence::told_reading{});
    return {field(c.check),
            field(in_words(c.choice)),
            field(f.name),
            std::string{f.does_not_apply ? "does not apply" : in_words(f.outcome)},
            field(read.value),
            field(read.standard_uncertainty),
            f.measured ? field(std::string{base_unit(read.unit)}) : "",
            field(f.lower),
            field(f.upper),
            field(f.demand),
            f.answered ? field(f.answered->text) : "",
            f.answered ? field(f.answered->probability) : "",
            f.measured ? fmt::format("{}", read.measurement_version) : "",
            field(read.at),
            field(f.reason),
            f.measured ? field(std::optional{read.u_baseline}) : ""};
}

/// The runs asked for, oldest first, a page at a time.
template <class Work>
void for_each_run(database& in, const run_question& which, const Work& work) {
    std::vector<std::int64_t> ids;
    constexpr std::int64_t page = 1000;
    auto q = which;
    q.before = std::numeric_limits<std::int64_t>::max();
    while (static_cast<std::int64_t>(ids.size()) < which.most) {
        q.most = std::min(page, which.most - static_cast<std::int64_t>(ids.size()));
        const auto runs = list_runs(in, q);
        for (const auto& r : runs) ids.push_back(r.id);
        if (static_cast<std::int64_t>(runs.size()) < q.most) break;
        q.before = runs.back().id;
    }
    std::ranges::reverse(ids);
    for (const auto id : ids)
        if (const auto run = run_of_id(in, id)) work(*run, read_run(in, *run));
}

nlohmann::ordered_json number(const std::optional<double>& x) {
    return x ? nlohmann::ordered_json(*x) : nlohmann::ordered_json{};
}

nlohmann::ordered_json json_of(const evidence::told_check& c, const evidence::told_finding& f) {
    nlohmann::ordered_json one{{"check", c.check},         {"settings", c.choice},
                               {"name", f.name},           {"verdict", in_words(f.outcome)},
                               {"demanded", f.demand},     {"lower", number(f.lower)},
                               {"upper", number(f.upper)}, {"reason", f.reason}};
    if (f.does_not_apply) one["does_not_apply"] = true;
    if (f.measured)
        one["reading"] = {{"value", number(f.measured->value)},
                          {"standard_uncertainty", number(f.measured->standard_uncertainty)},
                          {"unit", base_unit(f.measured->unit)},
                          {"quantity", report::dimension_name(f.measured->unit)},
                          {"at", f.measured->at},
                          {"measurement_version", f.measured->measurement_version},
                          {"u_of_baseline", f.measured->u_baseline}};
    if (f.answered)
        one["answer"] = {{"text", f.answered->text},
                         {"probability", number(f.answered->probability)}};
    return one;
}

nlohmann::ordered_json json_of(const stored_run& r, const evidence::told_run& told) {
    nlohmann::ordered_json findings = nlohmann::ordered_json::array();
    for (const auto& c : told.checks)
        for (const auto& f : c.findings) findings.push_back(json_of(c, f));
    return {{"id", r.id},
            {"started", r.started},
            {"module", r.build.module},
            {"build",
             {{"name", r.build.name},
              {"version", r.build.version},
              {"commit", r.build.commit},
              {"sha256", r.build.sha256}}},
            {"unit", r.unit},
            {"bench", r.bench},
            {"verdict", in_words(r.outcome)},
            {"partial", r.is_partial},
            {"coverage_factor", told.coverage_factor},
            {"expectations_sha256", r.expectations_sha256},
            {"bench_sha256", r.bench_sha256},
            {"rig_version", told.rig_version},
            {"report_folder", r.report_folder},
            {"findings", findings}};
}

}  // namespace

void export_csv(database& in, const run_question& which, std::ostream& out) {
    add_line(out, {"run",
                   "started",
                   "module",
                   "build",
                   "version",
                   "commit",
                   "sha256",
                   "unit",
                   "bench",
                   "check",
                   "settings",
                   "finding",
                   "verdict",
                   "reading",
                   "standard uncertainty",
                   "reading unit",
                   "lower",
                   "upper",
                   "demanded",
                   "answer",
                   "probability",
                   "measurement version",
                   "at",
                   "reason",
                   "u of baseline",
                   "coverage factor",
                   "partial"});
    for_each_run(in, which, [&](const stored_run& run, const evidence::told_run& told) {
        const auto first = run_fields(run);
        for (const auto& c : told.checks)
            for (const auto& f : c.findings) {
                auto all = first;
                std::ranges::move(finding_fields(c, f), std::back_inserter(all));
                all.push_back(fmt::format("{}", told.coverage_factor));
                all.emplace_back(run.is_partial ? "yes" : "no");
                add_line(out, all);
            }
    });
}

void export_json(database& in, const run_question& which, std::ostream& out) {
    out << R"({"format": "cvrig history 1", "runs": [)";
    bool first = true;
    for_each_run(in, which, [&](const stored_run& run, const evidence::told_run& told) {
        out << (first ? "\n" : ",\n")
            << json_of(run, told).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
        first = false;
    });
    out << "\n]}\n";
}

}  // namespace cvrig::history
