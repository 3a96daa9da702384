#include "rig/checks/compared_pairs.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/expectations/compared.hpp"

namespace cvrig {

namespace {

bool was_skipped(const check_result& r) {
    return r.outcome() == verdict::skipped && !r.findings.empty();
}

std::string value_of(const setting_choice& choice, const std::string& setting) {
    const auto found = choice.find(setting);
    return found == choice.end() ? std::string{} : found->second;
}

check_result not_compared(const comparison& how, const check_request& request, verdict outcome,
                          const std::string& reason) {
    findings out{request};
    for (const char* key : how.demands) out.doubt(key, reason);
    check_result result;
    result.findings = std::move(out).take();
    for (auto& f : result.findings) f.outcome = outcome;
    return result;
}

check_result compared(const comparison& how, const check_request& request,
                      const check_result& first, const check_result& other) {
    findings out{request};
    how.judge(out, request, first, other);
    check_result result;
    result.findings = std::move(out).take();
    auto open = not_compared(how, request, verdict::unsure,
                             "One of the two choices of settings could not be read.");
    for (auto& f : open.findings)
        if (result.find(f.name) == nullptr) result.findings.push_back(std::move(f));
    return result;
}

}  // namespace

std::vector<check_result> compare_pairs(const comparison& how, const module_expectations& m,
                                        const bench& b, const check_expectation& wanted,
                                        std::span<const check_result> results) {
    const auto setting = compared_setting(wanted, how.key);
    if (setting.empty()) return {};
    const auto first_value = value_of(wanted.in.front(), setting);
    std::vector<check_result> all;
    for (const auto& other : results) {
        if (value_of(other.choice, setting) == first_value || was_skipped(other)) continue;
        auto with_first = other.choice;
        with_first[setting] = first_value;
        const auto first = std::ranges::find(results, with_first, &check_result::choice);
        const check_request request{m, b, wanted, other.choice, other.attempts};
        const bool is_there = first != results.end() && !was_skipped(*first);
        auto result = is_there
                          ? compared(how, request, *first, other)
                          : not_compared(how, request, verdict::skipped,
                                         fmt::format("It is compared with {} {}, which was not "
                                                     "played.",
                                                     setting, first_value));
        result.choice = other.choice;
        all.push_back(std::move(result));
    }
    return all;
}

}  // namespace cvrig
