#include "analysis/closing_digital.hpp"

#include <algorithm>
#include <cmath>
#include <map>
#include <utility>

#include "analysis/samples.hpp"

namespace cvrig::analysis::closing_fit {

namespace {

constexpr double usual_rate_hz = 48000.0;
// Of anything between an analogue filter and one at 48 kHz.
constexpr double likely_share = 0.5, u_likely_share = 0.4;
constexpr double most_share = 2.25;  // 32 kHz

/// Each section of a ladder is transformed at its own pole, which is the mean of the real parts of the
/// whole ring's.
double resting_pole_hz(const scene& s, const found_filter& found) {
    const auto poles = poles_of(std::span{found.fit.parameters}.subspan(first_q));
    double sum = 0.0;
    for (const auto& pole : poles) sum += pole.real();
    return poles.empty() ? 0.0 : s.unit_hz * sum / static_cast<double>(poles.size());
}

/// What of the departures looks like so much bend.
struct seen_bend {
    double share, noise_variance;
    std::vector<double> pulls;

    [[nodiscard]] double variance() const { return noise_variance + dot(pulls, pulls); }
};

seen_bend seen_in(const scene& s, std::span<const double> straight, std::span<const double> change,
                  double relative_u_source) {
    const double power = dot(change, change);
    const double share = -dot(straight, change) / power;
    double rss = 0.0;
    std::map<double, double> pulls;  // of each harmonic's source
    for (std::size_t i = 0; i < s.points.size(); ++i) {
        const double left = straight[i] + share * change[i];
        rss += left * left;
        pulls[s.points[i].frequency] += relative_u_source / s.points[i].u * change[i] / power;
    }
    seen_bend out{share, rss / static_cast<double>(s.points.size()) / power, {}};
    for (const auto& [frequency, pull] : pulls) out.pulls.push_back(pull);
    return out;
}

}  // namespace

std::vector<double> departures(const scene& s, std::span<const double> parameters) {
    moment_nodes nodes{s, parameters};
    std::vector<double> out;
    for (const auto& at : s.points)
        out.push_back((mean_nepers(nodes.about(at.t_s), parameters, at, nullptr) - at.nepers) /
                      at.u);
    return out;
}

scene bent(scene s, const found_filter& found, double share) {
    constexpr double least = 0.001;
    const double pole_hz = resting_pole_hz(s, found);
    if (!(share > least) || !(pole_hz > 0.0)) return s;
    const double rate_hz = usual_rate_hz / std::sqrt(share);
    s.digital = scene::bilinear{rate_hz, pole_hz};
    for (auto& at : s.points) at.frequency *= stretched(at.frequency * s.unit_hz, rate_hz);
    return s;
}

outcome<bend> bend_of(const scene& in_phase, const found_filter& found, double relative_u_source) {
    const auto s = bent(in_phase, found, 1.0);
    if (!s.digital) return bend{};
    const auto other = fit_from(s, found.fit.parameters);
    if (!other) return refuse(refusal::no_fit);
    const auto straight = departures(in_phase, found.fit.parameters);
    auto change = departures(s, other->parameters);
    for (std::size_t i = 0; i < change.size(); ++i) change[i] -= straight[i];
    const double grows = other->parameters[ln_tau] - found.fit.parameters[ln_tau];
    if (!(dot(change, change) > 0.0)) return bend{likely_share, u_likely_share, grows, {}};
    auto seen = seen_in(in_phase, straight, change, relative_u_source);
    // The mean of both by their variances.
    const double likely_variance = u_likely_share * u_likely_share;
    const double of_seen = likely_variance / (likely_variance + seen.variance());
    const double share = of_seen * seen.share + (1.0 - of_seen) * likely_share;
    for (double& pull : seen.pulls) pull *= of_seen;
    return bend{
        std::clamp(share, 0.0, most_share),
        std::hypot(of_seen * std::sqrt(seen.noise_variance), (1.0 - of_seen) * u_likely_share),
        grows, std::move(seen.pulls)};
}

}  // namespace cvrig::analysis::closing_fit
