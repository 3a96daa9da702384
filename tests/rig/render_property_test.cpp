#include <rapidcheck/catch.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <string>
#include <vector>

#include "rig/stimulus/render.hpp"
#include "tests/rig/render_fixture.hpp"

namespace {

using namespace cvrig;
using namespace cvrig::test;

/// Lengths that are no whole number of samples, voltages up to the very limits.
rc::Gen<step> any_step() {
    return rc::gen::map(rc::gen::tuple(rc::gen::inRange(1, 2000), rc::gen::inRange(0, 5101),
                                       rc::gen::arbitrary<bool>(), rc::gen::arbitrary<bool>(),
                                       rc::gen::inRange(0, 5001)),
                        [](const auto& t) {
                            step s;
                            s.length = seconds{std::get<0>(t) * 1.234567e-5};
                            s.pitch = volts{-0.1 + std::get<1>(t) * 1e-3};
                            s.gate = std::get<2>(t);
                            s.accent = std::get<3>(t);
                            s.others["cutoff"] = volts{std::get<4>(t) * 1e-3};
                            return s;
                        });
}

rc::Gen<passage> any_passage() {
    return rc::gen::map(
        rc::gen::pair(rc::gen::nonEmpty(rc::gen::container<std::vector<step>>(any_step())),
                      rc::gen::element<std::string>("tracking", "slide", "accent")),
        [](auto p) { return tune(p.second, std::move(p.first)); });
}

/// A low rate, to be quick: lead-in 1200 samples, gap 480, return to rest 80.
bench slow_desk() {
    auto desk = small_desk();
    desk.program.rate = sample_rate{8000.0};
    return desk;
}

score rendered(const std::vector<passage>& passages) {
    return render(passages, small_voice(), slow_desk());
}

template <class Predicate>
bool all_of(const std::vector<float>& channel, std::size_t first, std::size_t end, Predicate p) {
    return std::all_of(channel.begin() + static_cast<std::ptrdiff_t>(first),
                       channel.begin() + static_cast<std::ptrdiff_t>(end), p);
}

std::vector<passage> some_passages() {
    return *rc::gen::container<std::vector<passage>>(any_passage());
}

TEST_CASE("render: twenty thousand steps do not drift", "[rig][render]") {
    const auto s = rendered({tune("pattern", std::vector<step>(20000, note(0.00103, 1.0)))});
    // 0.00103 s is 8.24 samples; step 19999 begins after 164791.76.
    CHECK(s.placed[0].step_starts.back() - s.placed[0].first_sample == 164792);
    CHECK(s.placed[0].end_sample - s.placed[0].first_sample == 164800);
}

TEST_CASE("render: whatever is asked, the take keeps its promises", "[rig][render]") {
    rc::prop("lengths add up", [] {
        const auto passages = some_passages();
        const auto s = rendered(passages);
        std::size_t expected = 1200 + 80;
        std::size_t last_end = 1200;
        for (const auto& p : s.placed) {
            RC_ASSERT(p.step_starts.size() == p.asked.steps.size());
            RC_ASSERT(p.step_starts.front() == p.first_sample);
            if (p.first_sample < last_end) continue;  // shared with an earlier one
            RC_ASSERT(p.first_sample == last_end + 480);
            last_end = p.end_sample;
            expected += 480 + p.end_sample - p.first_sample;
        }
        if (!passages.empty()) expected += 480;
        RC_ASSERT(s.volts.size() == expected);
        for (const auto& channel : s.volts.volts) RC_ASSERT(channel.size() == expected);
    });

    rc::prop("every sample lies within its output's limits", [] {
        const auto desk = slow_desk();
        const auto s = render(some_passages(), small_voice(), desk);
        for (std::size_t c = 0; c < desk.outputs.size(); ++c) {
            const auto& o = desk.outputs[c];
            RC_ASSERT(all_of(s.volts.volts[c], 0, s.volts.size(), [&o](float v) {
                return static_cast<double>(v) >= o.lowest.value() &&
                       static_cast<double>(v) <= o.highest.value();
            }));
        }
    });

    rc::prop("no step drifts from its time", [] {
        const auto s = rendered(some_passages());
        for (const auto& p : s.placed) {
            double time_samples = 0.0;
            for (std::size_t i = 0; i < p.step_starts.size(); ++i) {
                const auto start = static_cast<double>(p.step_starts[i] - p.first_sample);
                // Half a sample, and the rounding of the sums.
                RC_ASSERT(std::abs(start - time_samples) <= 0.5 + 1e-6);
                time_samples += p.asked.steps[i].length.value() * 8000.0;
            }
        }
    });

    rc::prop("each step holds what was asked for", [] {
        const auto s = rendered(some_passages());
        for (const auto& p : s.placed)
            for (std::size_t i = 0; i < p.step_starts.size(); ++i) {
                const auto end = i + 1 < p.step_starts.size() ? p.step_starts[i + 1] : p.end_sample;
                const auto& asked = p.asked.steps[i];
                const auto is_at = [](volts wanted) {
                    // Floats below 8 V are within 4.8e-7 V of each other.
                    return [wanted](float v) {
                        return std::abs(static_cast<double>(v) - wanted.value()) < 5e-7;
                    };
                };
                const auto holds = [&](channel c, volts wanted) {
                    return all_of(s.volts.volts[c], p.step_starts[i], end, is_at(wanted));
                };
                RC_ASSERT(holds(gate, volts{asked.gate ? 5.0 : 0.0}));
                RC_ASSERT(holds(accent, volts{asked.accent ? 5.0 : 0.0}));
                RC_ASSERT(holds(pitch, asked.pitch));
                RC_ASSERT(holds(cutoff, asked.others.at("cutoff")));
                RC_ASSERT(holds(spare, volts{0.0}));
            }
    });

    rc::prop("a second check with the same music costs no time", [] {
        auto passages = some_passages();
        const auto alone = rendered(passages);
        const auto count = passages.size();
        for (std::size_t i = 0; i < count; ++i) {
            passages.push_back(passages[i]);
            passages.back().check = "a further check for " + passages[i].check;
        }
        const auto together = rendered(passages);
        RC_ASSERT(together.volts.volts == alone.volts.volts);
        for (std::size_t i = 0; i < count; ++i)
            RC_ASSERT(together.placed[count + i].asked.check == passages[count + i].check);
    });

    rc::prop("equal requests give equal takes", [] {
        const auto passages = some_passages();
        RC_ASSERT(rendered(passages).volts.volts == rendered(passages).volts.volts);
    });
}

}  // namespace
