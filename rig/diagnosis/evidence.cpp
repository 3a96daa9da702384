#include "rig/diagnosis/evidence.hpp"

#include <fmt/format.h>

#include <algorithm>

namespace cvrig {

bool evidence::failed(std::string_view demand) const {
    return std::ranges::any_of(result.findings, [&](const finding& f) {
        return f.outcome == verdict::fail && f.name.starts_with(demand);
    });
}

bool evidence::only_failed(std::string_view demand) const {
    return failed(demand) && std::ranges::none_of(result.findings, [&](const finding& f) {
               return f.outcome == verdict::fail && !f.name.starts_with(demand);
           });
}

std::span<const reading> evidence::readings(std::string_view demand) const {
    const auto* f = result.find(demand);
    return f == nullptr ? std::span<const reading>{} : std::span<const reading>{f->all};
}

const reading* evidence::worst(std::string_view demand) const {
    const auto* f = result.find(demand);
    return f == nullptr || !f->measured ? nullptr : &*f->measured;
}

const answer* evidence::answered(std::string_view demand) const {
    const auto* f = result.find(demand);
    return f == nullptr || !f->answered ? nullptr : &*f->answered;
}

const limit* evidence::allowed(std::string_view demand) const {
    const auto* f = result.find(demand);
    return f == nullptr || !f->allowed ? nullptr : &*f->allowed;
}

std::vector<const check_result*> evidence::siblings() const {
    std::vector<const check_result*> out;
    for (const auto& r : run)
        if (&r != &result && r.check == result.check) out.push_back(&r);
    return out;
}

const check_result* evidence::beside(std::string_view check) const {
    const auto found = std::ranges::find_if(
        run, [&](const check_result& r) { return r.check == check && r.choice == result.choice; });
    return found == run.end() ? nullptr : &*found;
}

std::string text_of(const evidence& e, std::string_view demand) {
    const auto* r = e.worst(demand);
    return r == nullptr ? "?" : show(r->value, r->unit, 3);
}

std::string place_of(const evidence& e, std::string_view demand) {
    const auto* r = e.worst(demand);
    return r == nullptr || r->at.empty() ? "an unknown place" : r->at;
}

std::optional<diagnosis> first_of(const evidence& e, std::span<const one_demand> causes) {
    for (const auto& d : causes)
        if (e.failed(d.key))
            return diagnosis{d.cause, fmt::format(fmt::runtime(d.sentence), text_of(e, d.key))};
    return std::nullopt;
}

std::string difference_in_words(const setting_choice& here, const setting_choice& there) {
    setting_choice only;
    for (const auto& [name, set_to] : here) {
        const auto other = there.find(name);
        if (other == there.end() || other->second != set_to) only[name] = set_to;
    }
    return in_words(only);
}

std::string decibels_text(double in_decibels) {
    return fmt::format("{:+.1f} dB", in_decibels);
}

std::string signed_text(double in_base_unit, dimension d, int digits) {
    auto text = show(in_base_unit, d, digits);
    return in_base_unit > 0.0 ? "+" + text : text;
}

}  // namespace cvrig
