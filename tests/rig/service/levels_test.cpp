#include "rig/service/levels.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <numbers>

namespace {

using namespace cvrig;
using namespace cvrig::service;

const sample_rate rate{48000.0};

std::vector<float> sine(double peak, double cycles_a_second, std::size_t size) {
    std::vector<float> out(size);
    for (std::size_t i = 0; i < size; ++i)
        out[i] = static_cast<float>(peak * std::sin(2.0 * std::numbers::pi * cycles_a_second *
                                                    static_cast<double>(i) / rate.value()));
    return out;
}

channel_look named(const char* jack, way goes) {
    channel_look c;
    c.jack = jack;
    c.goes = goes;
    return c;
}

}  // namespace

TEST_CASE("a sine's meter reads its peak, and its peak over the root of two", "[service][levels]") {
    take t;
    t.sent.rate = rate;
    t.sent.jacks = {"gate"};
    t.sent.volts = {std::vector<float>(48000, 5.0F)};
    t.heard_jacks = {"left"};
    t.heard = {sine(3.0, 100.0, 48000)};
    const auto all =
        levels_of(t, {named("gate", way::out), named("left", way::in), named("absent", way::in)});
    REQUIRE(all.channels.size() == 2);
    CHECK(all.span.value() == Approx(1.0));
    CHECK(all.channels[0].rms_v == Approx(5.0));
    CHECK(all.channels[1].peak_v == Approx(3.0).epsilon(1e-4));
    CHECK(all.channels[1].rms_v == Approx(3.0 / std::sqrt(2.0)).epsilon(1e-4));
}

TEST_CASE("a trace's outline loses no spike, however coarse it is", "[service][levels]") {
    take t;
    t.sent.rate = rate;
    t.heard_jacks = {"left"};
    t.heard = {std::vector<float>(1'000'000, 0.0F)};
    t.heard[0][777'777] = 7.0F;
    t.heard[0][222'222] = -6.0F;
    const auto look = levels_of(t, {named("left", way::in)}).channels.at(0);
    CHECK(look.low.size() == look.high.size());
    CHECK(look.low.size() < 500);
    CHECK(*std::ranges::max_element(look.high) == 7.0F);
    CHECK(*std::ranges::min_element(look.low) == -6.0F);
}

TEST_CASE("a stream's levels are those of its latest part, in whatever pieces it comes",
          "[service][levels]") {
    const auto loud = sine(4.0, 200.0, 96000);
    const auto quiet = sine(0.5, 200.0, 48000);
    rolling_levels rolling{{named("pitch", way::out), named("left", way::in)}, rate};
    const auto feed = [&](const std::vector<float>& all, std::size_t piece) {
        for (std::size_t i = 0; i < all.size(); i += piece) {
            const auto part = std::span{all}.subspan(i, std::min(piece, all.size() - i));
            rolling.add({part}, {part});
        }
    };
    feed(loud, 977);
    CHECK(rolling.look().channels[1].peak_v == Approx(4.0).epsilon(1e-3));
    feed(quiet, 64);
    const auto now = rolling.look();
    CHECK(now.channels[1].peak_v == Approx(0.5).epsilon(1e-3));
    CHECK(now.channels[1].rms_v == Approx(0.5 / std::sqrt(2.0)).epsilon(0.01));
    CHECK(now.span.value() == Approx(3.0).epsilon(0.02));
    CHECK(*std::ranges::max_element(now.channels[0].high) == Approx(4.0).epsilon(1e-3));
    feed(quiet, 48000);
    feed(quiet, 48000);
    feed(quiet, 48000);
    CHECK(*std::ranges::max_element(rolling.look().channels[0].high) == Approx(0.5).epsilon(1e-3));
}
