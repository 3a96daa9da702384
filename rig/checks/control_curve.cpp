#include "rig/checks/control_curve.hpp"

#include <algorithm>
#include <cmath>

#include "rig/checks/cutoff_stair.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

using namespace literals;

namespace {

constexpr std::size_t levels = 5;
constexpr seconds wait = 0.5_s;
constexpr seconds held = 50_ms;

}  // namespace

std::vector<passage> curve_passages(const check_request& request) {
    const double longer = std::pow(1.5, request.attempt - 1);
    const auto voltages = levels_over(range_of(request, "cutoff"), levels);
    // At the bottom: with the knob beside it, the envelope must not open the filter beyond what is
    // heard of it.
    return {cutoff_stair(request, wait * longer, voltages[0], voltages, held * longer)};
}

check_result note_curve(const check_request& request, std::span<const heard_passage> heard,
                        std::initializer_list<const char*> keys) {
    check_result result;
    findings out{request};
    const auto stair = hear_stair(request, heard[0]);
    if (stair) {
        for (const auto& s : stair->steps) {
            if (s.beyond) continue;
            auto r = make_reading(s.cutoff.value(), dimension::ratio,
                                  {{"levels of the harmonics", s.u_cutoff.value()}},
                                  show(s.at.value(), dimension::volts));
            r.where = s.at.value();
            result.noted.push_back(std::move(r));
        }
    } else {
        for (const char* key : keys) out.doubt(key, stair.error(), "the held note");
    }
    result.findings = std::move(out).take();
    return result;
}

std::vector<curve_point> curve_of(const check_result& result) {
    std::vector<curve_point> out;
    for (const auto& r : result.noted)
        if (r.where)
            out.push_back({volts{*r.where}, octaves{r.value}, octaves{r.standard_uncertainty}});
    std::ranges::sort(out, {}, &curve_point::at);
    return out;
}

std::optional<equal_volts> volts_for(std::span<const curve_point> curve, octaves cutoff,
                                     octaves u) {
    if (curve.size() < 2) return std::nullopt;
    std::size_t i = 1;
    // Where the curve has come to its top, the first voltage that reaches it counts.
    constexpr octaves as_good_as{0.05};
    while (i + 1 < curve.size() && curve[i].cutoff + as_good_as < cutoff) ++i;
    const auto& a = curve[i - 1];
    const auto& b = curve[i];
    const double per_volt = (b.cutoff - a.cutoff).value() / (b.at - a.at).value();
    if (!(per_volt > 0.0)) return std::nullopt;
    const double along = (cutoff - a.cutoff).value() / per_volt;
    const double share = std::clamp(along / (b.at - a.at).value(), 0.0, 1.0);
    const double u_curve = std::hypot((1.0 - share) * a.u.value(), share * b.u.value());
    return equal_volts{a.at + volts{along}, volts{std::hypot(u_curve, u.value()) / per_volt}};
}

}  // namespace cvrig
