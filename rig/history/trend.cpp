#include "rig/history/trend.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <sstream>

#include "analysis/change_point.hpp"
#include "rig/history/told_words.hpp"

namespace cvrig::history {

namespace {

stored_demand demand_in(const sql_row& row) {
    const auto choice = settings_in(row.text(3));
    return {row.whole(0), row.text(1), row.text(2), row.text(4), choice, row.whole(5), choice};
}

constexpr const char* demand_columns =
    "SELECT id, module, check_name, settings, name, nth FROM demands";

/// Leaves out of the names which settings never differ: most knobs stay where they are.
void shorten(std::vector<stored_demand>& all) {
    std::vector<setting_choice> choices;
    for (const auto& d : all) choices.push_back(d.choice);
    const auto common = throughout(choices);
    for (auto& d : all) d.telling = without(d.choice, common);
}

std::vector<std::string> words_of(const std::string& text) {
    std::istringstream in{text};
    std::vector<std::string> out;
    for (std::string word; in >> word;) out.push_back(word);
    return out;
}

/// Every word stands in the name as a word of its own ("tied" is not in "untied").
bool is_called(const stored_demand& d, const std::vector<std::string>& wanted) {
    auto name = d.check + " " + in_words(d.choice) + " " + d.name;
    std::ranges::replace_if(
        name, [](char c) { return c == '(' || c == ')' || c == ','; }, ' ');
    const auto all = words_of(name);
    return std::ranges::all_of(
        wanted, [&](const std::string& w) { return std::ranges::find(all, w) != all.end(); });
}

/// Where several fit, the one that is called just so.
std::vector<stored_demand> fitting(std::vector<stored_demand> all, const std::string& named) {
    const auto wanted = words_of(named);
    std::erase_if(all, [&](const stored_demand& d) { return !is_called(d, wanted); });
    const auto exact = std::ranges::find(all, named, &stored_demand::called);
    if (exact != all.end()) return {*exact};
    return all;
}

[[noreturn]] void refuse_several(const std::vector<stored_demand>& all, const std::string& named) {
    constexpr std::size_t most = 12;
    std::string list;
    for (std::size_t i = 0; i < std::min(most, all.size()); ++i)
        list += fmt::format("\n  {:>4}  {}", all[i].id, all[i].called());
    if (all.size() > most) list += fmt::format("\n        and {} more", all.size() - most);
    throw nothing_found{
        fmt::format("'{}' may be any of {} readings; name one by its number or by more "
                    "words:{}",
                    named, all.size(), list)};
}

trend_point point_in(const sql_row& row) {
    trend_point p;
    p.run = row.whole(0);
    p.started = row.text(1);
    p.build = stored_build{0, {}, row.text(2), row.text(3), {}, row.text(5), {}, {}}.called();
    p.commit = row.text(4);
    p.reading = row.number(6);
    evidence::told_reading read;
    read.standard_uncertainty = row.number(7);
    read.u_baseline = row.number(14).value_or(0.0);
    p.standard_uncertainty = read.own_uncertainty();
    p.measurement_version = static_cast<int>(row.whole(9));
    p.lower = row.number(10);
    p.upper = row.number(11);
    p.outcome = verdict_in(row.text(12));
    return p;
}

/// One number for `a IN (...)`, since a bench of one name may have had several links.
std::string ids(const sql_rows& rows) {
    std::string out;
    for (const auto& row : rows) out += fmt::format("{}{}", out.empty() ? "" : ", ", row.whole(0));
    return out.empty() ? "0" : out;
}

sql_rows rows_of(database& in, const stored_demand& demand, const subject& of, std::int64_t most) {
    const auto units =
        ids(in.query("SELECT id FROM units WHERE module = $1 AND name = $2", {of.module, of.unit}));
    const auto benches = ids(in.query("SELECT id FROM benches WHERE name = $1", {of.bench}));
    return in.query(
        fmt::format(
            "SELECT m.run, r.started, b.name, b.version, b.commit_text, b.sha256, m.reading, "
            "m.standard_uncertainty, m.quantity, m.measurement_version, f.lower, f.upper, "
            "f.verdict, "
            "r.coverage_factor, m.u_baseline FROM readings m JOIN runs r ON r.id = m.run JOIN "
            "builds b ON b.id = "
            "r.build "
            "JOIN findings f ON f.run = m.run AND f.place = m.place "
            "WHERE m.demand = $1 AND m.unit IN ({}) AND m.bench IN ({}) ORDER BY m.run DESC LIMIT "
            "$2",
            units, benches),
        {demand.id, most + 1});
}

void find_changes(trend& t) {
    std::vector<double> readings, u;
    std::vector<std::size_t> place;
    const int way = t.points.back().measurement_version;
    for (std::size_t i = 0; i < t.points.size(); ++i) {
        const auto& p = t.points[i];
        if (p.measurement_version != way) t.is_measured_otherwise = true;
        if (p.measurement_version != way || !p.reading || !p.standard_uncertainty) continue;
        readings.push_back(*p.reading);
        u.push_back(*p.standard_uncertainty);
        place.push_back(i);
    }
    const auto found = analysis::change_points(readings, u);
    if (!found) return;
    for (const auto& c : *found)
        t.changes.push_back({place[c.first_after], c.before, c.after, c.p});
}

}  // namespace

std::string stored_demand::called() const {
    const auto settings = in_words(telling);
    auto text = settings.empty() ? fmt::format("{}, {}", check, name)
                                 : fmt::format("{} ({}), {}", check, settings, name);
    return nth == 0 ? text : fmt::format("{} no. {}", text, nth + 1);
}

std::vector<stored_demand> list_demands(database& in, const std::string& module) {
    std::vector<stored_demand> out;
    const auto sql = std::string{demand_columns};
    const auto rows =
        module.empty()
            ? in.query(sql + " ORDER BY module, check_name, settings, name, nth")
            : in.query(sql + " WHERE module = $1 ORDER BY check_name, settings, name, nth",
                       {module});
    for (const auto& row : rows) out.push_back(demand_in(row));
    shorten(out);
    return out;
}

stored_demand find_demand(database& in, const std::string& module, const std::string& named) {
    const auto known = list_demands(in, module);
    for (const auto& d : known)
        if (fmt::format("{}", d.id) == named) return d;
    const auto all = fitting(known, named);
    if (all.empty())
        throw nothing_found{fmt::format(
            "The history {} has no reading '{}'; `cvrig trend` without a name lists them.",
            in.address(), named)};
    if (all.size() > 1) refuse_several(all, named);
    return all.front();
}

subject latest_subject(database& in, const run_question& which) {
    auto q = which;
    q.most = 1;
    const auto latest = list_runs(in, q);
    if (latest.empty())
        throw nothing_found{
            fmt::format("The history {} holds no run of that module, unit and bench; `cvrig "
                        "history` lists what "
                        "there is.",
                        in.address())};
    const auto& run = latest.front();
    return {run.build.module, run.unit, run.bench};
}

trend read_trend(database& in, const stored_demand& demand, const subject& of, std::int64_t most) {
    auto rows = rows_of(in, demand, of, most);
    if (rows.empty())
        throw nothing_found{
            fmt::format("The history {} has no reading of '{}' for unit '{}' on bench '{}'; `cvrig "
                        "history` shows "
                        "which units and benches there are.",
                        in.address(), demand.called(), of.unit, of.bench)};
    trend t;
    t.demand = demand;
    t.of = of;
    t.is_cut = static_cast<std::int64_t>(rows.size()) > most;
    if (t.is_cut) rows.pop_back();
    t.unit = quantity_in(rows.front().text(8));
    t.coverage_factor = rows.front().number(13).value_or(2.0);
    for (const auto& row : rows) t.points.push_back(point_in(row));
    std::ranges::reverse(t.points);
    // One that was filed late stands where it was played.
    std::ranges::stable_sort(t.points, {}, &trend_point::started);
    find_changes(t);
    return t;
}

}  // namespace cvrig::history
