#include <fmt/format.h>

#include <algorithm>
#include <cmath>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

// Far below any note, far above what an interface's input leaves of silence.
constexpr double silent_dbu = -60.0;

struct share {
    double value;
    double u;
};

std::optional<share> mean_of(std::span<const reading> all) {
    if (all.empty()) return std::nullopt;
    double sum = 0.0, square_u = 0.0;
    for (const auto& r : all) {
        sum += r.value;
        square_u = std::max(square_u, r.standard_uncertainty);
    }
    return share{sum / static_cast<double>(all.size()), square_u};
}

double scatter_of(std::span<const reading> all, double mean) {
    double most = 0.0;
    for (const auto& r : all) most = std::max(most, std::abs(r.value - mean));
    return most;
}

const check_result* any_of(const evidence& e, std::string_view check) {
    if (const auto* same = e.beside(check)) return same;
    const auto found = std::ranges::find(e.run, check, &check_result::check);
    return found == e.run.end() ? nullptr : &*found;
}

// By how much all pitches are too high, as a ratio less one, if they are so by one ratio.
std::optional<share> pitch_excess(const evidence& e) {
    const auto* tracking = any_of(e, "tracking");
    if (tracking == nullptr) return std::nullopt;
    const auto* errors = tracking->find("error");
    if (errors == nullptr) return std::nullopt;
    const auto mean = mean_of(errors->all);
    if (!mean || scatter_of(errors->all, mean->value) > 0.3 * std::abs(mean->value) + 1.0)
        return std::nullopt;
    return share{std::exp2(mean->value / 1200.0) - 1.0, mean->u * std::log(2.0) / 1200.0};
}

// By how much all slides are too short.
std::optional<share> slide_excess(const evidence& e) {
    const auto* slide = any_of(e, "slide");
    if (slide == nullptr) return std::nullopt;
    const auto* times = slide->find("time constant");
    if (times == nullptr || !times->allowed || !times->allowed->nominal) return std::nullopt;
    const double nominal = *times->allowed->nominal;
    const auto mean = mean_of(times->all);
    if (!mean || scatter_of(times->all, mean->value) > 0.1 * mean->value) return std::nullopt;
    return share{nominal / mean->value - 1.0, mean->u / mean->value};
}

std::optional<diagnosis> wrong_rate(const evidence& e) {
    if (e.result.check != "tracking" && e.result.check != "slide") return std::nullopt;
    const auto pitch = pitch_excess(e);
    const auto times = slide_excess(e);
    // A tenth of a per cent is within what units differ by.
    if (!pitch || !times || std::abs(pitch->value) < 0.002) return std::nullopt;
    const double apart = std::abs(pitch->value - times->value);
    if (apart > 0.2 * std::abs(pitch->value) + 2.0 * std::hypot(pitch->u, times->u))
        return std::nullopt;
    return diagnosis{
        "sample rate",
        fmt::format("Pitch is {} and slides are {} shorter, by one ratio: the firmware runs at "
                    "another sample rate than its constants assume.",
                    signed_text(100.0 * pitch->value, dimension::percent),
                    signed_text(100.0 * times->value, dimension::percent))};
}

bool is_silent(const check_result& level) {
    const auto* f = level.find("level");
    return f != nullptr && !f->all.empty() &&
           std::ranges::all_of(f->all, [](const reading& r) { return r.value < silent_dbu; });
}

std::optional<diagnosis> no_note(const evidence& e) {
    const auto* here = e.beside("level");
    if (here == nullptr || !is_silent(*here)) return std::nullopt;
    for (const auto& other : e.run) {
        if (other.check != "level" || other.find("level") == nullptr || is_silent(other)) continue;
        return diagnosis{
            "dead in one setting",
            fmt::format("Nothing sounds with {}, though it does with {}: this setting is dead, and "
                        "all other failures here follow from it.",
                        difference_in_words(e.result.choice, other.choice),
                        difference_in_words(other.choice, e.result.choice))};
    }
    return diagnosis{"no note sounds",
                     "No note sounds at any output: look at the gate (threshold, cable), then at "
                     "the outputs; all other failures follow."};
}

}  // namespace

std::optional<diagnosis> diagnose_whole_run(const evidence& e) {
    if (auto silent = no_note(e)) return silent;
    return wrong_rate(e);
}

}  // namespace cvrig
