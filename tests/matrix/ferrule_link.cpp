#include "tests/matrix/ferrule_link.hpp"

#include <fmt/format.h>

#include "demo/arguments.hpp"
#include "demo/render.hpp"

namespace cvrig::testing {

namespace {

ferrule::sound interleaved(const stimulus& sent) {
    ferrule::sound out{
        static_cast<int>(sent.rate.value()), static_cast<int>(sent.volts.size()), {}};
    const std::size_t channels = sent.volts.size();
    out.samples.resize(sent.size() * channels);
    for (std::size_t c = 0; c < channels; ++c)
        for (std::size_t i = 0; i < sent.size(); ++i)
            out.samples[i * channels + c] = sent.volts[c][i];
    return out;
}

std::vector<float> every_second(const std::vector<float>& samples, std::size_t first) {
    std::vector<float> out((samples.size() + 1 - first) / 2);
    for (std::size_t i = 0; i < out.size(); ++i) out[i] = samples[2 * i + first];
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
    back.heard = {every_second(out.samples, 0), every_second(out.samples, 1)};
    return back;
}

std::string ferrule_link::description() const {
    return "Ferrule in this process";
}

}  // namespace cvrig::testing
