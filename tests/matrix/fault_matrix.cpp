// Injects every fault of the demo module that a check should see into several units, at half and
// at one and a half times its tolerance, and prints which check saw it. Usage:
//   fault_matrix EXPECTATIONS BENCH [UNITS [FAULTS [CHECKS [readings]]]]
// UNITS is a count, or a range such as 3-5; FAULTS and CHECKS are lists with commas, or "all".
#include <fmt/format.h>

#include <algorithm>
#include <atomic>
#include <functional>
#include <future>
#include <iostream>
#include <mutex>

#include "demo/faults.hpp"
#include "rig/checks/check.hpp"
#include "tests/matrix/examine.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

std::string cell(const tallies& in, const std::string& check) {
    const auto found = in.find(check);
    if (found == in.end()) return "";
    const auto& t = found->second;
    if (t.fail > 0) return t.pass + t.unsure == 0 ? "FAIL" : fmt::format("{} fail", t.fail);
    return t.unsure > 0 ? fmt::format("{} unsure", t.unsure) : ".";
}

void print_head(unsigned units) {
    std::cout << fmt::format("{:34}", fmt::format("{} units", units));
    for (const auto& check : all_checks()) std::cout << fmt::format("{:>11}", check.spec.name);
    std::cout << '\n';
}

void print_row(const row_result& r, bool with_readings) {
    std::cout << fmt::format("{:34}", r.label);
    for (const auto& check : all_checks())
        std::cout << fmt::format("{:>11}", cell(r.checks, check.spec.name));
    std::cout << std::endl;
    for (const auto& line : r.readings)
        if (with_readings) std::cout << "    " << line << '\n';
}

using job = std::function<row_result()>;

// Two at a time; printed in the order of the table.
std::vector<row_result> work_through(const std::vector<job>& jobs, bool with_readings) {
    std::vector<row_result> done(jobs.size());
    std::vector<bool> is_done(jobs.size(), false);
    std::size_t printed = 0;
    std::atomic<std::size_t> next{0};
    std::mutex guard;
    const auto work = [&] {
        for (std::size_t i = next++; i < jobs.size(); i = next++) {
            auto result = jobs[i]();
            const std::lock_guard lock{guard};
            done[i] = std::move(result);
            is_done[i] = true;
            for (; printed < jobs.size() && is_done[printed]; ++printed)
                print_row(done[printed], with_readings);
        }
    };
    auto other = std::async(std::launch::async, work);
    work();
    other.get();
    return done;
}

std::string_view unit_of(std::string_view fault) {
    for (const auto& f : ferrule::all_faults())
        if (f.name == fault) return f.unit;
    return "";
}

void print_demands(std::span<const fault_row> rows) {
    std::cout << "\nWhat is demanded:\n";
    for (const auto& row : rows) {
        const auto unit = unit_of(row.name);
        const std::string size =
            unit == "1=present" ? "present"
                                : fmt::format("{} {:.5g} {}", row.is_switch ? "size" : "tolerance",
                                              row.at_tolerance, unit);
        std::cout << fmt::format("  {}: {}; {} fails", row.name, size, row.must);
        if (!row.also.empty())
            std::cout << fmt::format("; {} may, since {}", row.also, row.because);
        std::cout << '\n';
    }
}

bool has_row(std::string_view fault) {
    return std::ranges::any_of(fault_rows(), [&](const auto& row) { return row.name == fault; });
}

// Faults that no check is meant to see, so that nothing is left out in silence.
void print_unseen() {
    std::cout << "\nNo check yet:\n";
    for (const auto& f : ferrule::all_faults())
        if (f.checks.empty() && !has_row(f.name))
            std::cout << fmt::format("  {}: {}\n", f.name, f.meaning);
}

// Where the demo module's own list of faults and the table differ.
std::vector<deviation> forgotten() {
    std::vector<deviation> out;
    for (const auto& f : ferrule::all_faults())
        for (const auto& row : fault_rows())
            if (row.name == f.name && !lists(f.checks, row.must))
                out.push_back({deviation_kind::not_seen,
                               fmt::format("{}: should be seen by {}, and its row says {}", f.name,
                                           f.checks, row.must)});
    for (const auto& f : ferrule::all_faults())
        if (!f.checks.empty() && !has_row(f.name))
            out.push_back(
                {deviation_kind::not_seen,
                 fmt::format("{}: should be seen by {} and has no row", f.name, f.checks)});
    return out;
}

int print_kind(const std::vector<deviation>& all, deviation_kind kind, std::string_view title) {
    const auto of_kind = [&](const deviation& d) { return d.kind == kind; };
    const auto count = static_cast<int>(std::ranges::count_if(all, of_kind));
    std::cout << fmt::format("\n{}: {}\n", title, count);
    for (const auto& d : all)
        if (of_kind(d)) std::cout << "  " << d.text << '\n';
    return count;
}

bool print_deviations(const std::vector<row_result>& rows, std::vector<deviation> all) {
    int runs = 0;
    for (const auto& r : rows) {
        runs += r.runs;
        all.insert(all.end(), r.deviations.begin(), r.deviations.end());
    }
    const int passes = print_kind(all, deviation_kind::false_pass, "False passes");
    const int unseen = print_kind(all, deviation_kind::not_seen, "Not surely seen");
    const int alarms = print_kind(all, deviation_kind::false_alarm, "False alarms");
    std::cout << fmt::format(
        "\n{} rows, {} runs: {} false passes, {} not surely seen, {} false alarms\n", rows.size(),
        runs, passes, unseen, alarms);
    return all.empty();
}

std::vector<std::string> words_of(std::string_view list) {
    std::vector<std::string> out;
    if (list == "all") return out;
    while (!list.empty()) {
        const auto comma = list.find(',');
        out.emplace_back(list.substr(0, comma));
        list = comma == std::string_view::npos ? "" : list.substr(comma + 1);
    }
    return out;
}

std::vector<fault_row> chosen(const std::vector<std::string>& only) {
    for (const auto& name : only)
        if (!has_row(name))
            throw user_error{fmt::format("There is no fault '{}' in the table.", name)};
    std::vector<fault_row> out;
    for (const auto& row : fault_rows())
        if (only.empty() || std::ranges::find(only, row.name) != only.end()) out.push_back(row);
    return out;
}

void read_units(trial& into, const std::string& text) {
    const auto dash = text.find('-');
    const auto number = [](const std::string& s) { return static_cast<unsigned>(std::stoul(s)); };
    into.first_unit = dash == std::string::npos ? 1 : number(text.substr(0, dash));
    into.last_unit = number(dash == std::string::npos ? text : text.substr(dash + 1));
}

bool run_table(const std::vector<std::string>& words) {
    trial t{.module = read_expectations(words.at(0), all_specs()),
            .desk = read_bench(words.at(1)),
            .checks = words_of(words.size() > 4 ? words[4] : "all")};
    read_units(t, words.size() > 2 ? words[2] : "10");
    const auto faults = words_of(words.size() > 3 ? words[3] : "all");
    const auto rows = chosen(faults);
    std::vector<job> jobs{[&] { return examine_good(t); }};
    for (const auto& row : rows) {
        jobs.emplace_back([&] { return examine_beyond(t, row); });
        if (!row.is_switch) jobs.emplace_back([&] { return examine_half(t, row); });
    }
    print_head(t.last_unit + 1 - t.first_unit);
    const auto results = work_through(jobs, words.size() > 5 && words[5] == "readings");
    print_demands(rows);
    print_unseen();
    return print_deviations(results, faults.empty() ? forgotten() : std::vector<deviation>{});
}

}  // namespace

int main(int argc, char** argv) {
    try {
        if (argc < 3)
            throw user_error{"Say which files: fault_matrix EXPECTATIONS BENCH [UNITS [FAULTS]]."};
        return run_table({argv + 1, argv + argc}) ? 0 : 1;
    } catch (const std::exception& e) {
        std::cerr << "fault_matrix: " << e.what() << '\n';
        return 2;
    }
}
