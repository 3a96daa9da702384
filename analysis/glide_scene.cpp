#include "analysis/glide_scene.hpp"

#include <algorithm>
#include <cmath>
#include <numbers>

namespace cvrig::analysis::gliding {

using Eigen::Index;
using Eigen::VectorXd;

namespace {

/// Three harmonics of the highest pitch at least.
double usual_edge(double rate_hz, double highest_hz) {
    return std::min(std::max(900.0, 3.2 * highest_hz), 0.29 * rate_hz);
}

/// A band wide enough for the bend to leave little, or little next to the uncertainty that will do,
/// within 24 harmonics.
double edge_for(double rate_hz, const glide_law& law, double u_enough_s) {
    const double usual = usual_edge(rate_hz, std::max(law.from_hz(), law.to_hz()));
    const double lowest = std::min(law.from_hz(), law.to_hz());
    const double little = std::max(0.002, 0.1 * u_enough_s / law.tau_s());
    const double wanted = usual * std::sqrt(bend(law, usual) / little);
    return std::min(std::clamp(wanted, usual, std::max(usual, 24 * lowest)), 0.29 * rate_hz);
}

int keep_every(double rate_hz, double wanted_hz) {
    return std::max(1, static_cast<int>(rate_hz / wanted_hz));
}

/// The pitch never moves: a steady law explains the record better than the best glide.
bool steady(const scene& s, const glide_start& best) {
    // A law that hardly sets off within the record is a steady one, too.
    const phase_law law_found{best.law};
    if (law_found(s.wide.last_s()).left > 0.8) return true;
    const double moving = unlikeness(s.wide, best.law, 1);
    for (const law_place which : {ln_from, ln_to})
        for (int step = -4; step <= 4; ++step) {
            glide_law law = best.law;
            law.before.reset();
            const double ln_f = s.prior.at[which] + 0.5 * step * s.prior.u[which];
            law.at[ln_from] = law.at[ln_to] = ln_f;
            if (unlikeness(s.wide, law, 1) < 0.5 * moving) return true;
        }
    return false;
}

}  // namespace

double bend(const glide_law& law, double edge_hz) {
    const double highest = std::max(law.from_hz(), law.to_hz());
    const double octaves_e = std::abs(law.at[ln_from] - law.at[ln_to]);
    return octaves_e * highest / law.tau_s() / (2 * std::numbers::pi * edge_hz * edge_hz);
}

bool is_jump(const glide_law& law) {
    return law.tau_s() < 0.25 / std::min(law.from_hz(), law.to_hz());
}

scene prepare(std::span<const double> volts, double rate_hz, const glide_request& request) {
    const double edge = usual_edge(rate_hz, std::max(request.from.value(), request.to.value()));
    scene out{band_limited(volts, rate_hz, request.expected_start.value(), {edge, edge},
                           keep_every(rate_hz, 10 * edge)),
              {},
              {},
              request.noise_rms.value(),
              request.mains.value()};
    out.prior.at = {std::log(request.from.value()), std::log(request.to.value()), 0.0, 0.0};
    out.prior.u = {request.relative_u_from, request.relative_u_to, 0.0, request.u_start.value()};
    out.prior.before = before_of(request.earlier);
    return out;
}

void tighten(scene& s, std::span<const double> volts, double rate_hz, const glide_law& law,
             const glide_request& request) {
    const double edge = edge_for(rate_hz, law, request.u_enough.value());
    s.tight = band_limited(volts, rate_hz, request.expected_start.value(), {edge, edge / 2},
                           keep_every(rate_hz, 3.2 * edge));
}

std::pair<fit_window, VectorXd> cut(const scene& s, const glide_law& law, bool filtered) {
    const auto& record = s.tight;
    const double before = std::max(0.06, 8 / law.from_hz());
    // What runs past its end turns round later than that, or does so by much.
    constexpr double main_part_taus = 2.5;
    const double after =
        (s.main_part ? main_part_taus : 6.5) * law.tau_s() + (s.main_part ? 0.0 : 0.09);
    const auto row = [&](double t) {
        return static_cast<Index>((t - record.first_s) * record.rate_hz);
    };
    const Index first = std::clamp(row(law.start_s() - before), Index{0}, record.volts.size() - 1);
    const Index last = std::clamp(row(law.start_s() + after), first + 1, record.volts.size());
    // A hard start of the model would ring in a filter, the longer the lower it is tuned.
    const double lowest = std::min(law.from_hz(), law.to_hz());
    const double ring_s = std::clamp(12 / lowest, 0.11, 0.35);
    const double edge_s = 2.5 * record.band.reach_s();
    return {fit_window{record.time_s(first), record.rate_hz, last - first, record.band,
                       filtered ? std::max(ring_s, edge_s) : edge_s,
                       filtered ? std::max(0.05, edge_s) : edge_s, s.mains_hz},
            record.volts.segment(first, last - first)};
}

double expected_variance(const scene& s) {
    const double independent = std::min(1.0, 2 * s.tight.band.centre_hz() / s.tight.rate_hz);
    return std::pow(s.noise_rms * s.tight.noise_gain, 2) / independent;
}

outcome<glide_start> likeliest(const scene& s) {
    if (s.wide.volts.size() < 64) return refuse(refusal::too_short);
    const auto found = find_starts(s.wide, s.prior, glide_shape::exponential_in_volts);
    if (found.empty()) return refuse(refusal::too_short);
    if (steady(s, found.front())) return refuse(refusal::no_contrast);
    return found.front();
}

double noise_from_cycles(const scene& s, const glide_law& law) {
    band_record quiet = s.wide;
    const auto steady_rows =
        static_cast<Index>((law.start_s() - 0.002 - quiet.first_s) * quiet.rate_hz);
    quiet.volts.conservativeResize(std::clamp(steady_rows, Index{8}, quiet.volts.size()));
    const double power = quiet.volts.squaredNorm() / static_cast<double>(quiet.volts.size());
    return std::sqrt(0.5 * unlikeness(quiet, law, 1) * power) / quiet.noise_gain;
}

}  // namespace cvrig::analysis::gliding
