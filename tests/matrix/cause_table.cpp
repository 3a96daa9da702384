// Injects faults of the demo module and prints what the diagnosis makes of each: a table of cause
// against diagnosis. Usage:
//   cause_table EXPECTATIONS BENCH [UNITS [FAULTS]]
// Status 1 if any diagnosis names a wrong cause, or none where one is known.
#include <fmt/format.h>

#include <algorithm>
#include <future>
#include <iostream>
#include <map>
#include <string>
#include <vector>

#include "rig/diagnosis/diagnosis.hpp"
#include "rig/run/runner.hpp"
#include "tests/matrix/cause_rows.hpp"
#include "tests/matrix/examine.hpp"
#include "tests/matrix/ferrule_link.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

struct said {
    std::map<std::string, int> causes;  ///< cause -> in how many units
    std::string sentence;               ///< an example
};

struct files {
    module_expectations module;
    bench desk;
};

said diagnose_fault(const files& f, const cause_row& row, unsigned units) {
    said out;
    const auto plan = plan_run(f.module, f.desk, {});
    for (unsigned unit = 1; unit <= units; ++unit) {
        ferrule_link to_module{unit, fmt::format("{}:{}", row.fault, row.size)};
        auto results = run(plan, to_module, f.module, f.desk, {}).checks;
        diagnose(results, f.module);
        const auto found = std::ranges::find_if(results, [&](const check_result& r) {
            return r.check == row.check && r.likeliest.has_value();
        });
        const bool failed = found != results.end();
        ++out.causes[failed ? found->likeliest->cause : "did not fail"];
        if (failed) out.sentence = found->likeliest->sentence;
    }
    return out;
}

bool print_row(const cause_row& row, const said& s) {
    bool all_right = true;
    std::string causes;
    for (const auto& [cause, count] : s.causes) {
        const bool right = lists(row.causes, cause);
        all_right = all_right && right;
        causes += fmt::format("{}{}{} x {}", causes.empty() ? "" : "; ", right ? "" : "WRONG ",
                              cause, count);
    }
    std::cout << fmt::format("{:<28} {:>8g}  {:<10} {}\n", row.fault, row.size, row.check, causes)
              << fmt::format("{:48} {}\n", "", s.sentence) << std::flush;
    return all_right;
}

int table(const std::vector<std::string>& words) {
    const files f{read_expectations(words.at(0), all_specs()), read_bench(words.at(1))};
    const auto units = words.size() > 2 ? static_cast<unsigned>(std::stoul(words[2])) : 1U;
    std::vector<cause_row> rows;
    for (const auto& row : cause_rows())
        if (words.size() < 4 || words[3] == "all" || lists(words[3], row.fault))
            rows.push_back(row);
    if (rows.empty() || units == 0) throw user_error{"Nothing was asked for."};
    std::size_t right = 0;
    for (std::size_t i = 0; i < rows.size(); i += 2) {
        std::vector<std::future<said>> two;
        for (std::size_t k = i; k < std::min(i + 2, rows.size()); ++k)
            two.push_back(std::async(std::launch::async, [&f, &rows, k, units] {
                return diagnose_fault(f, rows[k], units);
            }));
        for (std::size_t k = 0; k < two.size(); ++k)
            right += print_row(rows[i + k], two[k].get()) ? 1u : 0u;
    }
    std::cout << fmt::format("\n{} of {} causes named rightly in all of {} units\n", right,
                             rows.size(), units);
    return right == rows.size() ? 0 : 1;
}

}  // namespace

int main(int argc, char** argv) {
    try {
        if (argc < 3) throw user_error{"Say which files: cause_table EXPECTATIONS BENCH [UNITS]."};
        return table({argv + 1, argv + argc});
    } catch (const std::exception& e) {
        std::cerr << "cause_table: " << e.what() << '\n';
        return 2;
    }
}
