#include "rig/stimulus/jack_levels.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <optional>
#include <set>
#include <string>
#include <utility>

namespace cvrig {
namespace {

/// The switch of a step that a gate-like jack follows, if it is one of the usual ones.
std::optional<bool> switch_of(const step& s, std::string_view jack) {
    if (jack == "gate") return s.gate;
    if (jack == "accent") return s.accent;
    if (jack == "slide") return s.slide;
    return std::nullopt;
}

class examiner {
public:
    examiner(std::span<const jack_levels> jacks, const module_expectations& module)
        : jacks_{jacks}, module_{module} {}

    void examine(const passage& p) {
        if (p.steps.empty()) complain(p, "it has no steps");
        for (const auto& s : p.steps) {
            if (!(s.length.value() > 0.0) || !std::isfinite(s.length.value()))
                complain(p, fmt::format("a step of {:g} s is not possible", s.length.value()));
            examine_jacks(p, s);
        }
        for (const auto& jack : jacks_) examine_voltages(p, jack);
    }

    std::vector<complaint> take_complaints() { return std::move(complaints_); }

private:
    void examine_jacks(const passage& p, const step& s) {
        need(p, "pitch");
        if (s.gate) need(p, "gate");
        if (s.accent) need(p, "accent");
        for (const auto& [name, v] : s.others) {
            need(p, name);
            if (name == "pitch")
                complain(p, fmt::format("jack '{}' is set twice in one step", name));
        }
        for (const auto& [name, v] : s.from) need(p, name);
    }

    void need(const passage& p, const std::string& jack) {
        if (module_.find_jack(jack) == nullptr)
            complain(p, fmt::format("the module has no jack '{}'; add it under 'drive' in the "
                                    "expectation file, or leave the check out",
                                    jack));
        else if (std::none_of(jacks_.begin(), jacks_.end(),
                              [&](const auto& j) { return j.output().jack == jack; }))
            complain(p, fmt::format("no output of the bench feeds jack '{}'", jack));
    }

    /// One complaint with the worst voltage, since a whole stair of notes may be too high.
    void examine_voltages(const passage& p, const jack_levels& jack) {
        const auto& o = jack.output();
        std::optional<volts> worst;
        const auto excess = [&](volts v) { return std::max(v - o.highest, o.lowest - v); };
        const auto look_at = [&](volts v) {
            if (jack.allows(v)) return;
            if (!worst || !(excess(v) <= excess(*worst))) worst = v;
        };
        look_at(jack.rest());
        for (const auto& s : p.steps) {
            look_at(jack.during(s));
            if (const auto start = jack.start_of(s)) look_at(*start);
        }
        if (!worst) return;
        complain(p,
                 fmt::format("it needs {:g} V at jack '{}', but the bench allows only {:g} V to "
                             "{:g} V there",
                             worst->value(), o.jack, o.lowest.value(), o.highest.value()),
                 o.where);
    }

    void complain(const passage& p, const std::string& what, const place& where = {}) {
        auto sentence = fmt::format("check '{}' cannot be played: {}", p.check, what);
        if (said_.insert(sentence).second) complaints_.push_back({where, std::move(sentence)});
    }

    std::span<const jack_levels> jacks_;
    const module_expectations& module_;
    std::vector<complaint> complaints_;
    std::set<std::string> said_;
};

}  // namespace

volts jack_levels::rest() const noexcept {
    if (jack_ == nullptr) return volts{0.0};
    return jack_->is_gate ? jack_->low : jack_->rest;
}

volts jack_levels::during(const step& s) const {
    if (jack_ == nullptr) return volts{0.0};
    if (jack_->name == "pitch") return s.pitch;
    const auto found = s.others.find(jack_->name);
    if (found != s.others.end()) return found->second;
    if (const auto on = switch_of(s, jack_->name)) return *on ? jack_->high : jack_->low;
    return rest();
}

std::optional<volts> jack_levels::start_of(const step& s) const {
    if (jack_ == nullptr) return std::nullopt;
    const auto found = s.from.find(jack_->name);
    return found == s.from.end() ? std::nullopt : std::optional{found->second};
}

float jack_levels::sample(volts v) const noexcept {
    const auto nearest = static_cast<float>(v.value());
    if (static_cast<double>(nearest) > output_->highest.value())
        return std::nextafter(nearest, -INFINITY);
    if (static_cast<double>(nearest) < output_->lowest.value())
        return std::nextafter(nearest, INFINITY);
    return nearest;
}

std::vector<jack_levels> levels_of(const module_expectations& module, const bench& desk) {
    std::vector<jack_levels> jacks;
    jacks.reserve(desk.outputs.size());
    for (const auto& output : desk.outputs)
        jacks.emplace_back(output, module.find_jack(output.jack));
    return jacks;
}

std::vector<complaint> complaints_about(std::span<const passage> passages,
                                        std::span<const jack_levels> jacks,
                                        const module_expectations& module) {
    examiner all{jacks, module};
    for (const auto& p : passages) all.examine(p);
    return all.take_complaints();
}

}  // namespace cvrig
