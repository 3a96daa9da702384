// Injects every fault of the demo module that the six checks should see, into several units, at
// half and at one and a half times its tolerance, and prints which check saw it. Usage:
// fault_matrix EXPECTATIONS BENCH [UNITS [FAULT]]
#include <fmt/format.h>

#include <atomic>
#include <filesystem>
#include <future>
#include <iostream>
#include <map>
#include <mutex>

#include "demo/arguments.hpp"
#include "demo/render.hpp"
#include "rig/checks/check.hpp"
#include "rig/run/runner.hpp"
#include "tests/matrix/fault_rows.hpp"

namespace {

using namespace cvrig;
using cvrig::testing::fault_row;

// Ferrule in this process: hours of sound are rendered here.
class ferrule_link : public link {
public:
    ferrule_link(unsigned unit, std::string fault) : unit_{unit}, fault_{std::move(fault)} {}

    take play(const stimulus& sent, const setting_choice& choice, int number,
              int attempt) override {
        std::vector<std::string> words{"jacks=pitch,gate,accent,slide,cutoff",
                                       fmt::format("unit={}", unit_)};
        for (const auto& [name, held] : choice) words.push_back(fmt::format("{}={}", name, held));
        if (!fault_.empty()) words.push_back(fmt::format("fault={}", fault_));
        auto asked = ferrule::parse_arguments(words);
        asked.stored = ferrule::calibrate(ferrule::make_specimen(unit_), asked.seed);
        ferrule::sound in{
            static_cast<int>(sent.rate.value()), static_cast<int>(sent.volts.size()), {}};
        for (std::size_t i = 0; i < sent.size(); ++i)
            for (const auto& channel : sent.volts) in.samples.push_back(channel[i]);
        const auto out =
            ferrule::render(in, ferrule::plan_of(asked, sent.rate.value()), asked.wires);
        take back{.sent = sent,
                  .heard_jacks = {"left", "right"},
                  .heard = {},
                  .choice = choice,
                  .number = number,
                  .attempt = attempt,
                  .problems = {},
                  .log = {},
                  .wall = seconds{0.0}};
        back.heard.resize(2);
        for (std::size_t i = 0; i < out.samples.size(); ++i)
            back.heard[i % 2].push_back(out.samples[i]);
        return back;
    }
    [[nodiscard]] std::string description() const override { return "Ferrule in process"; }

private:
    unsigned unit_;
    std::string fault_;
};

using verdicts = std::map<std::string, verdict>;

struct files {
    module_expectations module;
    bench desk;
};

verdicts judged(const files& f, unsigned unit, const std::string& fault) {
    ferrule_link to_module{unit, fault};
    verdicts out;
    for (const auto& check :
         run(plan_run(f.module, f.desk), to_module, f.module, f.desk, {}).checks) {
        const auto [at, is_new] = out.try_emplace(check.check, check.outcome());
        if (!is_new) at->second = worse(at->second, check.outcome());
    }
    return out;
}

// One cell for each check: how many units failed, passed and stayed open.
struct tally {
    int pass{0}, fail{0}, unsure{0};
};

struct row_result {
    std::map<std::string, tally> wrong, half;
    std::vector<std::string> deviations;
};

bool names(std::string_view list, std::string_view check) {
    return fmt::format(",{},", list).find(fmt::format(",{},", check)) != std::string::npos;
}

void count(std::map<std::string, tally>& into, const verdicts& v) {
    for (const auto& [check, outcome] : v) {
        auto& t = into[check];
        ++(outcome == verdict::pass ? t.pass : outcome == verdict::fail ? t.fail : t.unsure);
    }
}

void examine_wrong(row_result& r, const fault_row& row, unsigned unit, const verdicts& v) {
    count(r.wrong, v);
    if (!v.contains(std::string{row.must}))
        r.deviations.push_back(
            fmt::format("{}: unit {}: {} was not played", row.name, unit, row.must));
    for (const auto& [check, outcome] : v) {
        if (check == row.must && outcome != verdict::fail)
            r.deviations.push_back(fmt::format("{}: unit {}: {} should fail and is {}", row.name,
                                               unit, check, in_words(outcome)));
        if (check != row.must && outcome == verdict::fail && !names(row.also, check))
            r.deviations.push_back(fmt::format("{}: unit {}: {} fails too", row.name, unit, check));
    }
}

void examine_half(row_result& r, const fault_row& row, unsigned unit, const verdicts& v) {
    count(r.half, v);
    for (const auto& [check, outcome] : v)
        if (outcome != verdict::pass)
            r.deviations.push_back(fmt::format("{}: unit {}: at half its tolerance {} is {}",
                                               row.name, unit, check, in_words(outcome)));
}

row_result examine(const files& f, const fault_row& row, unsigned units) {
    row_result r;
    const double wrong = row.is_switch ? row.at_tolerance : 1.5 * row.at_tolerance;
    for (unsigned unit = 1; unit <= units; ++unit) {
        examine_wrong(r, row, unit, judged(f, unit, fmt::format("{}:{}", row.name, wrong)));
        if (!row.is_switch)
            examine_half(r, row, unit,
                         judged(f, unit, fmt::format("{}:{}", row.name, 0.5 * row.at_tolerance)));
    }
    return r;
}

std::string cell(const std::map<std::string, tally>& in, const std::string& check) {
    const auto found = in.find(check);
    if (found == in.end()) return "";
    const auto& t = found->second;
    if (t.fail > 0) return t.pass + t.unsure == 0 ? "FAIL" : fmt::format("{} fail", t.fail);
    return t.unsure > 0 ? fmt::format("{} unsure", t.unsure) : ".";
}

void print_row(const std::string& name, const std::map<std::string, tally>& cells) {
    std::cout << fmt::format("{:34}", name);
    for (const auto& check : all_checks())
        std::cout << fmt::format("{:>11}", cell(cells, check.spec.name));
    std::cout << std::endl;
}

std::vector<fault_row> chosen(const std::string& only) {
    std::vector<fault_row> out;
    for (const auto& row : cvrig::testing::fault_rows())
        if (only.empty() || row.name == only) out.push_back(row);
    return out;
}

int examine_good(const files& f, unsigned units) {
    std::map<std::string, tally> good;
    int wrong = 0;
    for (unsigned unit = 1; unit <= units; ++unit) {
        const auto v = judged(f, unit, "");
        count(good, v);
        for (const auto& [check, outcome] : v) wrong += outcome == verdict::pass ? 0 : 1;
    }
    print_row("good build", good);
    return wrong;
}

std::vector<std::string> examine_all(const files& f, const std::vector<fault_row>& rows,
                                     unsigned units) {
    std::atomic<std::size_t> next{0};
    std::mutex printing;
    std::vector<std::string> deviations;
    const auto work = [&] {
        for (std::size_t i = next++; i < rows.size(); i = next++) {
            const auto r = examine(f, rows[i], units);
            const std::lock_guard lock{printing};
            print_row(std::string{rows[i].name} + (rows[i].is_switch ? ", present" : " x 1.5"),
                      r.wrong);
            if (!rows[i].is_switch) print_row(fmt::format("{} x 0.5", rows[i].name), r.half);
            deviations.insert(deviations.end(), r.deviations.begin(), r.deviations.end());
        }
    };
    auto other = std::async(std::launch::async, work);
    work();
    other.get();
    return deviations;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        const auto specs = all_specs();
        const files f{
            read_expectations(argc > 1 ? argv[1] : "demo/ferrule.expectations.yaml", specs),
            read_bench(argc > 2 ? argv[2] : "demo/desk.bench.yaml")};
        const unsigned units = argc > 3 ? static_cast<unsigned>(std::stoul(argv[3])) : 10;
        const auto rows = chosen(argc > 4 ? argv[4] : "");
        if (rows.empty())
            throw user_error{fmt::format("There is no fault '{}' in the table.", argv[4])};
        std::cout << fmt::format("{:34}", fmt::format("{} units", units));
        for (const auto& check : specs) std::cout << fmt::format("{:>11}", check.name);
        std::cout << std::endl;
        const int wrong = examine_good(f, units);
        const auto deviations = examine_all(f, rows, units);
        std::cout << "\nAlso touched:\n";
        for (const auto& row : cvrig::testing::fault_rows())
            if (!row.also.empty())
                std::cout << fmt::format("  {}: {} ({})\n", row.name, row.also, row.because);
        std::cout << fmt::format("\n{} deviations{}\n",
                                 deviations.size() + static_cast<std::size_t>(wrong),
                                 wrong > 0 ? ", some on the good build" : "");
        for (const auto& d : deviations) std::cout << "  " << d << '\n';
        return deviations.empty() && wrong == 0 ? 0 : 1;
    } catch (const std::exception& e) {
        std::cerr << "fault_matrix: " << e.what() << '\n';
        return 2;
    }
}
