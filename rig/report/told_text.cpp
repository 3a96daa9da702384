#include "rig/report/told_text.hpp"

#include <fmt/format.h>

#include "rig/report/phrases.hpp"

namespace cvrig::report {

std::string told_text(const evidence::told_finding& f, double coverage_factor) {
    if (f.answered)
        return fmt::format("{} ({})", f.answered->text,
                           odds_text(f.answered->probability.value_or(0.0)));
    if (!f.measured || !f.measured->value) return "no reading";
    const auto& m = *f.measured;
    if (!m.standard_uncertainty) return show(*m.value, m.unit);
    return show(*m.value, coverage_factor * *m.standard_uncertainty, m.unit);
}

}  // namespace cvrig::report
