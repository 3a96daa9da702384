#include "rig/checks/slide_passages.hpp"

#include <fmt/format.h>
#include <algorithm>
#include <cmath>

namespace cvrig {

namespace {

using namespace literals;

constexpr seconds note_lead = 20_ms;
constexpr seconds long_first_note = 0.18_s;
constexpr seconds short_first_note = 0.125_s;
constexpr seconds rest_before_plain = 15_ms;
constexpr seconds plain_note = 0.09_s;

// After 6.5 time constants an octave is done to 2 cents; the rest shows where it ends.
seconds slide_length(const check_request& request) {
    return (nominal_time_constant(request) * 6.5 + 90_ms) * std::pow(1.5, request.attempt - 1);
}

passage blank(const check_request& request, std::string purpose, volts at, seconds held) {
    return {
        .check = "slide",
        .steps = {{.length = note_lead, .pitch = at}, {.length = held, .pitch = at, .gate = true}},
        .purpose = std::move(purpose),
        .choice = request.choice};
}

step tied(volts to, seconds length, bool slide) {
    return {.length = length, .pitch = to, .gate = true, .slide = slide};
}

passage single(const check_request& request, const voltage_step& s) {
    passage p = blank(request, "a slide from " + name_of(s), s.from, long_first_note);
    p.steps.push_back(tied(s.to, slide_length(request), true));
    // Back to the first voltage and up again: a module that stops short of a target must not hold
    // the reference note there, too.
    p.steps.push_back({.length = rest_before_plain, .pitch = s.from});
    p.steps.push_back({.length = plain_note, .pitch = s.to, .gate = true});
    return p;
}

passage run_of_two(const check_request& request, const voltage_step& s) {
    passage p = blank(request, "two slides in a run", s.from, short_first_note);
    p.steps.push_back(tied(s.to, slide_length(request), true));
    p.steps.push_back(tied(s.from, slide_length(request), true));
    return p;
}

passage interrupted(const check_request& request, const voltage_step& s) {
    passage p = blank(request, "a slide that is interrupted", s.from, short_first_note);
    p.steps.push_back(tied(s.to, nominal_time_constant(request) * 1.5, true));
    p.steps.push_back(tied(s.from, slide_length(request), true));
    return p;
}

passage jump(const check_request& request, const voltage_step& s) {
    passage p = blank(request, "a tied step without slide", s.from, short_first_note);
    p.steps.push_back(tied(s.to, slide_length(request), false));
    return p;
}

}  // namespace

seconds nominal_time_constant(const check_request& request) {
    const auto* wanted = request.wanted.find<limit>("time constant", request.choice);
    if (wanted == nullptr) return 25_ms;
    return seconds{wanted->nominal.value_or(wanted->upper.value_or(wanted->lower.value_or(0.025)))};
}

const std::vector<voltage_step>& slides_of(const check_request& request) {
    return *request.wanted.find<std::vector<voltage_step>>("steps", request.choice);
}

const voltage_step& featured_slide(const check_request& request) {
    const auto wide_and_high = [](const voltage_step& s) {
        const double width = std::abs((s.to - s.from).value());
        return std::pair{width >= 0.5, std::min(s.from, s.to).value()};
    };
    return *std::ranges::max_element(slides_of(request), {}, wide_and_high);
}

std::string name_of(const voltage_step& s) {
    return fmt::format("{} to {}", show(s.from.value(), dimension::volts),
                       show(s.to.value(), dimension::volts));
}

bool demands(const check_request& request, const char* key) {
    return request.wanted.find<limit>(key, request.choice) != nullptr;
}

std::vector<passage> slide_passages(const check_request& request) {
    std::vector<passage> out;
    for (const auto& s : slides_of(request)) out.push_back(single(request, s));
    const auto& featured = featured_slide(request);
    out.push_back(run_of_two(request, featured));
    if (demands(request, "interrupted")) out.push_back(interrupted(request, featured));
    if (demands(request, "without slide")) out.push_back(jump(request, featured));
    return out;
}

}  // namespace cvrig
