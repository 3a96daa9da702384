#pragma once

#include <string>
#include <vector>

#include "rig/checks/check.hpp"
#include "rig/run/verdict.hpp"

namespace cvrig {

/// Findings that are plain facts instead of measured numbers: what is in a file, what was answered.
class fact_findings {
public:
    explicit fact_findings(const check_request& request) : request_{request} {}
    explicit fact_findings(const check_request&&) = delete;  // it would not outlive the call

    [[nodiscard]] bool wanted(const std::string& key) const;

    /// Passes if nothing is wrong, else fails with the sentence. `is` is what was found.
    void tell(const std::string& key, const std::string& is, const std::string& wrong);
    /// As tell(), whether the file asks for it or not.
    void tell_anyway(const std::string& key, const std::string& is, const std::string& wrong);
    void doubt(const std::string& key, const std::string& reason);
    void add(finding f);

    /// A finding without a verdict yet, with what the file demands.
    [[nodiscard]] finding blank(const std::string& key) const;

    [[nodiscard]] std::vector<finding> take() && { return std::move(found_); }

private:
    const check_request& request_;
    std::vector<finding> found_;
};

/// Every demand of the check, skipped for one reason.
[[nodiscard]] check_result all_skipped(const check_request& request, const std::string& reason);

}  // namespace cvrig
