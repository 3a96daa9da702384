#include "rig/fleet/tracking_record.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace cvrig {

namespace {

double share(const reading& r, std::string_view name) {
    const auto found = std::ranges::find(r.budget, name, &analysis::contribution::name);
    return found == r.budget.end() ? 0.0 : found->standard_uncertainty;
}

std::string_view without_zeros(std::string_view digits) {
    return digits.substr(std::min(digits.find_first_not_of('0'), digits.size()));
}

bool is_number(std::string_view text) {
    return !text.empty() && std::ranges::all_of(text, [](char c) { return c >= '0' && c <= '9'; });
}

}  // namespace

tracking_record about_run(const run_result& run, double volts_per_octave) {
    tracking_record about;
    about.module = run.module;
    about.unit = run.unit;
    about.build = run.build_name;
    about.build_sha256 = run.build_sha256;
    about.bench = run.bench_name;
    about.started = run.started;
    about.rig_version = run.rig_version;
    about.volts_per_octave = volts_per_octave;
    return about;
}

tracking_record record_of(const check_result& tracking, tracking_record about) {
    about.choice = tracking.choice;
    about.notes.clear();
    about.u_common_cents = 0.0;
    for (const auto& r : tracking.noted) {
        if (!r.where) continue;
        about.notes.push_back({.at_volts = *r.where,
                               .error_cents = r.value,
                               .u_cents = share(r, "pitch estimator"),
                               .upward = r.upward.value_or(true)});
        about.u_common_cents = std::hypot(share(r, "bench voltage"), share(r, "sample clock"));
    }
    return about;
}

bool is_same_unit(std::string_view a, std::string_view b) noexcept {
    if (a == b) return true;
    return is_number(a) && is_number(b) && without_zeros(a) == without_zeros(b);
}

}  // namespace cvrig
