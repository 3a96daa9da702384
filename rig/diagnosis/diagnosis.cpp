#include "rig/diagnosis/diagnosis.hpp"

#include <algorithm>
#include <array>
#include <string>
#include <utility>

#include "rig/diagnosis/consequences.hpp"
#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

constexpr std::array<std::pair<std::string_view, diagnosis_rule>, 20> rules{{
    {"tracking", diagnose_tracking},   {"slide", diagnose_slide},
    {"retrigger", diagnose_retrigger}, {"accent", diagnose_accent},
    {"envelope", diagnose_envelope},   {"level", diagnose_level},
    {"stereo", diagnose_stereo},       {"waveform", diagnose_waveform},
    {"noise", diagnose_noise},         {"clicks", diagnose_clicks},
    {"latency", diagnose_latency},     {"gate", diagnose_gate},
    {"range", diagnose_range},         {"slide range", diagnose_range},
    {"knob and jack", diagnose_range}, {"unplugged", diagnose_range},
    {"extremes", diagnose_range},      {"pattern", diagnose_pattern},
    {"image", diagnose_image},         {"console", diagnose_console},
}};

diagnosis no_pattern() {
    return {std::string{no_typical_pattern}, "No typical pattern fits what was read."};
}

std::optional<diagnosis> of_check(const evidence& e) {
    const auto rule = std::ranges::find(rules, std::string_view{e.result.check},
                                        &std::pair<std::string_view, diagnosis_rule>::first);
    return rule == rules.end() ? std::nullopt : rule->second(e);
}

}  // namespace

void diagnose(std::span<check_result> results, const module_expectations& module) {
    std::vector<std::optional<diagnosis>> found(results.size());
    for (std::size_t i = 0; i < results.size(); ++i) {
        if (results[i].outcome() != verdict::fail) continue;
        const evidence e{results[i], results, module};
        found[i] = diagnose_whole_run(e);
        if (!found[i]) found[i] = of_check(e);
        if (!found[i]) found[i] = no_pattern();
    }
    for (std::size_t i = 0; i < results.size(); ++i) results[i].likeliest = std::move(found[i]);
    name_consequences(results);
}

}  // namespace cvrig
