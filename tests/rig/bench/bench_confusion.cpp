// Which finding names which fault of a simulated interface, and how often a good one is doubted.
// Usage: bench_confusion [SEEDS] [thorough]

#include <fmt/format.h>
#include <algorithm>
#include <cstdlib>
#include <map>
#include <set>
#include <string_view>

#include "rig/bench/self_test.hpp"
#include "rig/platform/cpu_time.hpp"
#include "tests/rig/bench/bench_faults.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::testing;

struct tally {
    std::map<std::string, int> doubted;  // finding -> how often it was not in order
    int named{0};                        // by the right sentence
    int runs{0};
};

struct whole {
    std::map<std::string, tally> rows;
    std::set<std::string> columns;
    double judging{0.0};
    int judged{0};
};

bench_proof examined(const interface_manners& m, self_test_form form, whole& all) {
    const auto b = desk();
    simulated_interface to{b, m, silent_module(b.inputs.size())};
    const auto sent = make_self_test(b, to.rate(), form);
    const auto heard = to.exchange(sent.out, sent.tail, {});
    const auto begin = thread_cpu_time();
    auto proof = judge_self_test(b, sent, heard);
    all.judging += (thread_cpu_time() - begin).value();
    ++all.judged;
    return proof;
}

void count(whole& all, const std::string& row, const bench_proof& p, const bench_fault* fault) {
    auto& t = all.rows[row];
    ++t.runs;
    bool named = false;
    for (const auto& f : p.findings) {
        if (f.ok) continue;
        ++t.doubted[f.name];
        all.columns.insert(f.name);
        named = named || (fault != nullptr && f.name == fault->finding &&
                          f.sentence.find(fault->words) != std::string::npos);
    }
    t.named += named ? 1 : 0;
}

void print(const whole& all) {
    std::vector<std::string> columns{all.columns.begin(), all.columns.end()};
    for (std::size_t i = 0; i < columns.size(); ++i) fmt::print("{:>3} {}\n", i + 1, columns[i]);
    fmt::print("\n{:34} {:>5} {:>5}", "fault \\ doubted finding", "runs", "named");
    for (std::size_t i = 0; i < columns.size(); ++i) fmt::print("{:>4}", i + 1);
    for (const auto& [name, t] : all.rows) {
        fmt::print("\n{:34} {:5} {:5}", name, t.runs, t.named);
        for (const auto& c : columns) {
            const auto found = t.doubted.find(c);
            fmt::print("{:>4}", found == t.doubted.end() ? "." : std::to_string(found->second));
        }
    }
    fmt::print("\n\njudging one exchange takes {:.1f} ms of one core\n",
               1e3 * all.judging / all.judged);
}

}  // namespace

int main(int argc, char** argv) {
    const int seeds = argc > 1 ? std::atoi(argv[1]) : 10;
    const auto form = argc > 2 && std::string_view{argv[2]} == "thorough"
                          ? self_test_form::thorough
                          : self_test_form::preamble;
    whole all;
    for (int seed = 1; seed <= seeds; ++seed) {
        const auto s = static_cast<std::uint64_t>(seed) + 10000;
        count(all, "(none)", examined(good_manners(s), form, all), nullptr);
        for (const auto& fault : bench_faults(s))
            count(all, fault.name, examined(fault.manners, form, all), &fault);
    }
    print(all);
    return 0;
}
