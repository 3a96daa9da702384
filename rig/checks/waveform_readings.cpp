#include "rig/checks/waveform_readings.hpp"

#include <algorithm>
#include <array>
#include <cmath>

#include "analysis/wave_pitch.hpp"
#include "rig/checks/held_note.hpp"
#include "rig/checks/listening.hpp"

namespace cvrig {

namespace {

using analysis::classic_wave;

constexpr std::array waves{classic_wave::saw, classic_wave::blend, classic_wave::square};
constexpr double blend_spread = 0.08;
constexpr double farthest_db = -6.0;
constexpr int most_harmonics = 13;

// A point of a plot; what lies deeper than this cannot be seen.
double shown_db(double share) {
    constexpr double deepest_db = -60.0;
    return std::max(deepest_db, 20.0 * std::log10(std::max(share, 1e-9)));
}

}  // namespace

std::string_view name_of(classic_wave which) noexcept {
    switch (which) {
        case classic_wave::saw:
            return "saw";
        case classic_wave::blend:
            return "blend";
        case classic_wave::square:
            break;
    }
    return "square";
}

analysis::outcome<analysis::wave_profile> heard_profile(const check_request& request,
                                                        const heard_passage& heard,
                                                        std::size_t jack) {
    const auto note = held_part(heard, jack);
    if (!sounds(heard, jack, note)) return analysis::refuse(analysis::refusal::silent);
    const auto spectrum = analysis::line_reader::of(note, heard.rate);
    if (!spectrum) return analysis::refuse(spectrum.error());
    const auto pitch = analysis::pitch_of_wave(*spectrum, held_pitch(request), most_harmonics);
    if (!pitch) return analysis::refuse(pitch.error());
    const double room = 0.42 * heard.rate.value() / pitch->value() - 0.8;
    return analysis::profile_of(*spectrum, *pitch,
                                std::min(most_harmonics, static_cast<int>(room)));
}

double named_wave::odds_of(std::string_view name) const noexcept {
    for (std::size_t i = 0; i < waves.size(); ++i)
        if (name_of(waves[i]) == name) return odds[i];
    return 0.0;
}

named_wave name_wave(const analysis::wave_profile& profile) {
    const auto e = analysis::even_share(profile);
    const double spread = std::hypot(e.u, blend_spread);
    named_wave out{.closest = classic_wave::saw, .is_any = true, .odds = {}};
    double sum = 0.0;
    for (const auto wave : waves) {
        const double off = (e.value - analysis::even_share_of(wave)) / spread;
        out.odds.push_back(std::exp(-0.5 * off * off) + 1e-12);
        sum += out.odds.back();
    }
    for (double& o : out.odds) o /= sum;
    const auto best = std::ranges::max_element(out.odds) - out.odds.begin();
    out.closest = waves[static_cast<std::size_t>(best)];
    out.is_any = analysis::distance_db(profile, out.closest).value < farthest_db;
    if (!out.is_any)
        for (double& o : out.odds) o *= 0.001;
    return out;
}

plot profile_plot(const check_request& request,
                  const std::vector<analysis::wave_profile>& profiles) {
    plot p{.title = "Harmonics against a saw's, filter divided out",
           .x_label = "number of the harmonic",
           .y_label = "level / dB",
           .curves = {},
           .bands = {},
           .note =
               "A saw lies at 0 dB throughout, the even harmonics of a blend at -9.5 dB; a "
               "square has none."};
    for (std::size_t jack = 0; jack < profiles.size(); ++jack) {
        series s{.name = request.module.listen[jack],
                 .drawn = series::look::points,
                 .x = {},
                 .y = {},
                 .u = {}};
        for (const auto& h : profiles[jack].harmonics) {
            s.x.push_back(h.number);
            s.y.push_back(shown_db(std::abs(h.share)));
        }
        p.curves.push_back(std::move(s));
    }
    if (profiles.empty()) return p;
    for (const auto wave : waves) {
        series s{.name = std::string{name_of(wave)},
                 .drawn = series::look::line,
                 .x = {},
                 .y = {},
                 .u = {}};
        for (const auto& h : profiles.front().harmonics) {
            s.x.push_back(h.number);
            s.y.push_back(shown_db(h.number % 2 == 0 ? analysis::even_share_of(wave) : 1.0));
        }
        p.curves.push_back(std::move(s));
    }
    return p;
}

}  // namespace cvrig
