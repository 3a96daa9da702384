#include "tests/coverage/simulated_take.hpp"

#include <cmath>

#include "tests/rig/simple_module.hpp"

namespace cvrig::testing {

namespace {

constexpr double tail_seconds = 0.058;  // as the runner cuts it

heard_passage heard_as(const passage& asked, sample_rate rate) {
    heard_passage out{
        .asked = asked, .rate = rate, .step_starts = {}, .end = 0, .volts = {}, .silence = {}};
    seconds at{0.0};
    for (const auto& s : asked.steps) {
        out.step_starts.push_back(
            static_cast<std::size_t>(std::llround(at.value() * rate.value())));
        at += s.length;
    }
    out.end = static_cast<std::size_t>(std::llround(at.value() * rate.value()));
    return out;
}

}  // namespace

simulated_desk::simulated_desk(const std::string& check, const std::vector<std::string>& limits,
                               std::uint64_t seed)
    : module{simple_expectations()}, desk{simple_bench()}, check_{check}, random_{seed} {
    check_expectation wanted;
    wanted.name = check;
    wanted.in = {setting_choice{}};
    module.checks.push_back(std::move(wanted));
    for (const auto& key : limits) set(key, limit{});
}

void simulated_desk::set(const std::string& key, value v) {
    module.checks.front().keys.insert_or_assign(key, everywhere(std::move(v)));
}

check_result simulated_desk::judge(const simulated_sound& sound, double noise_volts) {
    const check* what = find_check(check_);
    const check_request request{module, desk, module.checks.front(), {}, 1};
    const sample_rate rate = desk.rate();
    std::vector<heard_passage> heard;
    for (const auto& asked : what->plan(request)) {
        auto one = heard_as(asked, rate);
        const auto count = one.end + static_cast<std::size_t>(tail_seconds * rate.value());
        one.volts = sound(asked, count, rate);
        one.silence.assign(one.volts.size(),
                           std::vector<double>(static_cast<std::size_t>(0.15 * rate.value())));
        if (opening)
            for (auto& record : one.silence)
                for (std::size_t i = 0; i < record.size(); ++i)
                    record[i] = opening(static_cast<double>(i) / rate.value());
        for (auto* records : {&one.volts, &one.silence})
            for (auto& record : *records)
                for (auto& v : record) v += normal(noise_volts);
        heard.push_back(std::move(one));
    }
    return what->judge(request, heard);
}

double simulated_desk::normal(double standard_deviation) {
    return std::normal_distribution<double>{0.0, 1.0}(random_)*standard_deviation;
}

double simulated_desk::uniform(double from, double to) {
    return std::uniform_real_distribution<double>{from, to}(random_);
}

}  // namespace cvrig::testing
