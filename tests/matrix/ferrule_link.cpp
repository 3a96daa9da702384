#include "tests/matrix/ferrule_link.hpp"

#include <fmt/format.h>

#include "demo/arguments.hpp"
#include "demo/render.hpp"

namespace cvrig::testing {

namespace {

ferrule::sound interleaved(const stimulus& sent) {
    ferrule::sound out{
        static_cast<int>(sent.rate.value()), static_cast<int>(sent.volts.size()), {}};
    out.samples.reserve(sent.size() * sent.volts.size());
    for (std::size_t i = 0; i < sent.size(); ++i)
        for (const auto& channel : sent.volts) out.samples.push_back(channel[i]);
    return out;
}

}  // namespace

take ferrule_link::play(const stimulus& sent, const setting_choice& choice, int number,
                        int attempt) {
    std::vector<std::string> words{"jacks=pitch,gate,accent,slide,cutoff,decay",
                                   fmt::format("unit={}", unit_)};
    for (const auto& [name, held] : choice) words.push_back(fmt::format("{}={}", name, held));
    if (!fault_.empty()) words.push_back(fmt::format("fault={}", fault_));
    auto asked = ferrule::parse_arguments(words);
    asked.stored = ferrule::calibrate(ferrule::make_specimen(unit_), asked.seed);
    const auto out =
        ferrule::render(interleaved(sent), ferrule::plan_of(asked, sent.rate.value()), asked.wires);
    take back = begin_take(sent, choice, number, attempt);
    back.heard_jacks = {"left", "right"};
    back.heard.resize(2);
    for (std::size_t i = 0; i < out.samples.size(); ++i)
        back.heard[i % 2].push_back(out.samples[i]);
    return back;
}

std::string ferrule_link::description() const {
    return "Ferrule in this process";
}

}  // namespace cvrig::testing
