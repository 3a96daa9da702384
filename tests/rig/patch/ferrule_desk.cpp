#include "tests/rig/patch/ferrule_desk.hpp"

#include <algorithm>

namespace cvrig::testing {

namespace {

ferrule::module_plan plan_from(const std::vector<std::string>& words) {
    auto asked = ferrule::parse_arguments(words);
    asked.stored = ferrule::calibrate(ferrule::make_specimen(asked.unit), asked.seed);
    return ferrule::plan_of(asked, 48000.0);
}

ferrule::wiring all_but_decay() {
    ferrule::wiring w;
    w.jacks.resize(desk_jacks);
    return w;
}

}  // namespace

ferrule_desk::ferrule_desk(const std::vector<std::string>& words, const cabling& cables)
    : cables_{cables}, host_{plan_from(words), all_but_decay(), desk_jacks} {}

std::array<float, 2> ferrule_desk::one_frame(const std::array<float, desk_jacks>& sent) {
    std::array<float, desk_jacks> at_jack{};
    for (std::size_t o = 0; o < desk_jacks; ++o)
        for (std::size_t j = 0; j < desk_jacks; ++j)
            at_jack[j] += static_cast<float>(cables_.gain[o][j]) * sent[o];
    for (std::size_t j = 0; j < desk_jacks; ++j) highest_[j] = std::max(highest_[j], at_jack[j]);
    std::array<float, 2> sound{};
    host_.process(at_jack, sound);
    on_the_way_.push_back(sound);
    std::array<float, 2> late{};
    if (on_the_way_.size() > latency_samples) {
        late = on_the_way_.front();
        on_the_way_.pop_front();
    }
    std::array<float, 2> heard{};
    for (std::size_t i = 0; i < 2; ++i) {
        heard[i] = 2e-4F * static_cast<float>(noise_.normal());
        for (std::size_t o = 0; o < 2; ++o)
            heard[i] += static_cast<float>(cables_.back[i][o]) * audible_[o] * late[o];
    }
    return heard;
}

volts_in ferrule_desk::exchange(const volts_out& out, seconds tail, std::stop_token) {
    volts_in back;
    back.inputs.resize(2);
    const auto frames =
        out.outputs[0].size() + static_cast<std::size_t>(tail.value() * rate().value());
    for (std::size_t n = 0; n < frames; ++n) {
        std::array<float, desk_jacks> sent = held_;
        for (std::size_t o = 0; o < desk_jacks; ++o)
            if (n < out.outputs[o].size()) sent[o] = out.outputs[o][n];
        const auto heard = one_frame(sent);
        for (std::size_t i = 0; i < 2; ++i) back.inputs[i].push_back(heard[i]);
    }
    back.frames_per_second = rate().value();
    if (broken_exchanges > 0) {
        --broken_exchanges;
        back.events.push_back({stream_event::kind::overrun, 100, 0.0});
    }
    return back;
}

void ferrule_desk::hold(std::span<const volts> outputs) {
    for (std::size_t o = 0; o < desk_jacks; ++o)
        held_[o] = o < outputs.size() ? static_cast<float>(outputs[o].value()) : 0.0F;
}

bool ferrule_desk::tell(const std::string& line) {
    if (line == "ROUTe left")
        audible_ = {1.0F, 0.0F};
    else if (line == "ROUTe right")
        audible_ = {0.0F, 1.0F};
    else if (line == "ROUTe all")
        audible_ = {1.0F, 1.0F};
    else
        return false;
    return true;
}

}  // namespace cvrig::testing
