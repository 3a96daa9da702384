#include "rig/cli/judge_kept.hpp"

#include <algorithm>
#include <chrono>
#include <utility>

#include "rig/cli/describe_run.hpp"
#include "rig/run/by_facts.hpp"
#include "rig/run/kept_facts.hpp"
#include "rig/run/runner.hpp"

namespace cvrig {

namespace {

/// The same part of the file as was run; a check that other expectations do not have is left out.
run_filter within(run_filter asked, const module_expectations& m) {
    const bool all = asked.checks.empty();
    std::erase_if(asked.checks, [&](const std::string& name) {
        return std::ranges::find(m.checks, name, &check_expectation::name) == m.checks.end();
    });
    if (!all && asked.checks.empty())
        throw user_error{"These expectations have none of the checks that were run."};
    return asked;
}

}  // namespace

kept_judge::kept_judge(const std::filesystem::path& kept,
                       const std::optional<std::string>& expectations)
    : kept_{kept},
      takes_{kept},
      asked_{read_kept_run(kept)},
      m_{with_baseline(
          read_expectations(expectations.value_or((kept / "expectations.yaml").string()),
                            all_specs()),
          asked_.baseline)},
      b_{read_kept_bench(kept)} {
    require_fit(b_, m_);
    plan_ = plan_run(m_, b_, within(asked_.filter, m_));
}

run_result kept_judge::judge() {
    auto result = describe({asked_.unit, asked_.build_name, asked_.build_sha256,
                            asked_.build_commit, asked_.build_version, asked_.build_size_bytes},
                           m_, b_, takes_.description());
    const auto begin = std::chrono::steady_clock::now();
    auto outcome = run(plan_, takes_, m_, b_, {});
    add_by_facts(outcome.checks, plan_, read_kept_facts(kept_), m_, b_);
    fill(result, std::move(outcome), m_,
         seconds{std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count()});
    return result;
}

}  // namespace cvrig
