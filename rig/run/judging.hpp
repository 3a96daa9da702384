#pragma once

#include <span>
#include <string>
#include <vector>

#include "analysis/outcome.hpp"
#include "rig/checks/check.hpp"
#include "rig/run/verdict.hpp"

namespace cvrig {

/// A reading from its parts; the standard uncertainty is their root sum of squares.
[[nodiscard]] reading make_reading(double measured, dimension unit,
                                   std::vector<analysis::contribution> budget, std::string at = {});

/// A standard uncertainty that was estimated from few points, widened so that k of it hold the truth
/// as often as k of a well-known one do: by the ratio of Student's factor to the normal one at 95 %
/// (JCGM 100:2008, G.3.2 and Table G.2). Infinite without a degree of freedom.
[[nodiscard]] double widened(double standard_uncertainty, std::size_t degrees_of_freedom);

/// The verdict on one reading against one limit: pass if it lies inside by at least U = k u, fail
/// if it lies outside by at least U, otherwise unsure (JCGM 106:2012, guarded acceptance and
/// rejection). The uncertainty of a baseline that the limit follows is a part of u; where that
/// baseline is not known, always unsure.
[[nodiscard]] verdict judge(const reading& r, const limit& allowed, double coverage_factor);

/// Collects the findings of one check in one choice of settings, looking up each demand by its key.
/// A key that the file does not name is not judged.
class findings {
public:
    explicit findings(const check_request& request) : request_{request} {}
    explicit findings(const check_request&&) = delete;  // it would not outlive the call

    /// True if the file demands something under `key` for this choice.
    [[nodiscard]] bool wanted(const std::string& key) const;

    /// The limit demanded under `key`; null if there is none.
    [[nodiscard]] const limit* limit_of(const std::string& key) const {
        return request_.wanted.find<limit>(key, request_.choice);
    }
    /// The verdict on a reading with this file's coverage factor.
    [[nodiscard]] verdict judged(const reading& r, const limit& allowed) const {
        return judge(r, allowed, request_.module.coverage_factor);
    }

    /// Judges one reading.
    void add(const std::string& key, const reading& r);

    /// Judges many readings of one demand (every note of a stair): any failure fails, else any
    /// doubt is unsure; the finding shows the reading that lies worst. A limit that follows a
    /// baseline is another matter: set_against_baseline().
    void add_worst(const std::string& key, std::span<const reading> all);

    /// Judges an answer against the demanded word. Sure when its probability (or that of the other
    /// answers together) reaches the coverage of k one-sided: 0.977 for k = 2.
    void add(const std::string& key, const answer& a, const std::string& shown_as = {});

    /// The demand cannot be judged: unsure, with the reason.
    void doubt(const std::string& key, const std::string& reason, const std::string& shown_as = {});
    void doubt(const std::string& key, analysis::refusal why, const std::string& at);

    /// The demand means nothing with these settings or on this bench: skipped, with the reason, and
    /// nothing to the outcome of the check.
    void pass_over(const std::string& key, const std::string& reason);

    [[nodiscard]] std::vector<finding> take() && { return std::move(found_); }

private:
    [[nodiscard]] finding blank(const std::string& key) const;

    const check_request& request_;
    std::vector<finding> found_;
};

}  // namespace cvrig
