#include "analysis/glide.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <limits>

#include "analysis/glide_course.hpp"
#include "tests/support/synthetic_glide.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;
using testing::render;
using testing::synthetic_glide;

namespace {

glide_request request_of(const synthetic_glide& g) {
    glide_request r;
    r.from = hertz{g.from_hz * 1.001};
    r.to = hertz{g.to_hz * 0.999};
    r.expected_start = seconds{g.start_s + 0.0008};
    r.noise_rms = volts{g.level_v * std::pow(10.0, -g.snr_db / 20)};
    return r;
}

outcome<glide_reading> measure(const synthetic_glide& g) {
    return measure_glide(render(g).volts, sample_rate{g.rate_hz}, request_of(g));
}

double tau_error_per_cent(const glide_reading& r, const synthetic_glide& g) {
    return 100 * (r.time_constant.value() / g.tau_s - 1);
}

}  // namespace

TEST_CASE("glide: a clean slide is read to a thousandth of a per cent", "[analysis][glide]") {
    synthetic_glide g;
    g.wave = GENERATE(testing::oscillator::saw, testing::oscillator::square);
    g.tau_s = GENERATE(0.008, 0.022, 0.060);
    g.length_s = 0.28 + 6.5 * g.tau_s;
    const auto r = measure(g);
    REQUIRE(r);
    // What band edges and sampling leave: about 1e-4 of the voice, of which tau feels little.
    CHECK_THAT(tau_error_per_cent(*r, g), WithinAbs(0.0, 2e-3));
    CHECK_THAT(r->from.value(), WithinAbs(g.from_hz, 1e-4));
    CHECK_THAT(r->to.value(), WithinAbs(g.to_hz, 1e-4));
    CHECK_THAT(r->start.value(), WithinAbs(g.start_s, 1e-6));
    CHECK(r->shape == glide_shape::exponential_in_volts);
    CHECK(r->shape_decided);
    CHECK(r->residual.value() < -65);
}

TEST_CASE("glide: the shape is recognised", "[analysis][glide]") {
    synthetic_glide g;
    g.shape = GENERATE(glide_shape::exponential_in_volts, glide_shape::exponential_in_hertz,
                       glide_shape::linear_in_volts);
    g.to_hz = GENERATE(55.0, 220.0);
    g.tau_s = 0.03;
    g.snr_db = 60;
    const auto r = measure(g);
    REQUIRE(r);
    CHECK(r->shape == g.shape);
    CHECK(r->shape_decided);
    CHECK_THAT(tau_error_per_cent(*r, g), WithinAbs(0.0, 0.05));  // over 5 u at this noise
}

TEST_CASE("glide: a slide behind a resonant filter is read", "[analysis][glide]") {
    synthetic_glide g;
    g.filter = testing::filter_kind::ladder;
    g.cutoff_hz = 500;
    g.resonance = 1.5;
    g.high_pass_hz = 5;
    g.snr_db = 70;
    g.decay_per_s = 1;
    const auto r = measure(g);
    REQUIRE(r);
    CHECK_THAT(tau_error_per_cent(*r, g), WithinAbs(0.0, 0.05));
    CHECK(std::abs(r->time_constant.value() - g.tau_s) < 4 * r->u_time_constant.value());
}

TEST_CASE("glide: gain, polarity and offset leave the time constant alone", "[analysis][glide]") {
    synthetic_glide g;
    g.snr_db = 60;
    auto record = render(g).volts;
    const auto request = request_of(g);
    const auto plain = measure_glide(record, sample_rate{g.rate_hz}, request);
    for (double& v : record) v = -0.1 * v + 0.02;
    auto weaker = request;
    weaker.noise_rms = request.noise_rms * 0.1;
    const auto turned = measure_glide(record, sample_rate{g.rate_hz}, weaker);
    REQUIRE(plain);
    REQUIRE(turned);
    // Both fits end within a tenth of u of the same minimum.
    CHECK_THAT(turned->time_constant.value(),
               WithinAbs(plain->time_constant.value(), 0.1 * plain->u_time_constant.value()));
}

TEST_CASE("glide: a much slower slide and a jump are read for what they are", "[analysis][glide]") {
    synthetic_glide g;
    g.snr_db = 70;
    SECTION("eight times slower than usual") {
        g.tau_s = 0.176;
        g.length_s = 1.4;
        const auto r = measure(g);
        REQUIRE(r);
        CHECK_THAT(tau_error_per_cent(*r, g), WithinAbs(0.0, 0.05));
    }
    SECTION("immediate") {
        g.tau_s = 1e-5;
        const auto r = measure(g);
        REQUIRE(r);
        CHECK(r->time_constant.value() < 0.0005);
        CHECK(std::abs(r->time_constant.value() - g.tau_s) < 3 * r->u_time_constant.value());
    }
}

TEST_CASE("glide: a slide that ends elsewhere is read, not believed", "[analysis][glide]") {
    synthetic_glide g;
    g.snr_db = 60;
    auto request = request_of(g);
    g.to_hz *= 1.06;
    const auto r = measure_glide(render(g).volts, sample_rate{g.rate_hz}, request);
    REQUIRE(r);
    CHECK_THAT(interval(r->to, hertz{g.to_hz}).value(), WithinAbs(0.0, 0.1));
    CHECK_THAT(tau_error_per_cent(*r, g), WithinAbs(0.0, 0.05));
}

TEST_CASE("glide: what is left of the glide before is no misfit", "[analysis][glide]") {
    synthetic_glide g;
    g.from_hz = 261.6;
    g.to_hz = 523.2;
    g.snr_db = 75;
    g.length_s = 0.4;
    g.earlier_from_hz = 523.2;
    g.earlier_s = 0.233;  // 10.6 time constants: 0.03 cents are left
    g.start_s = 0.25;
    const auto record = render(g).volts;
    auto request = request_of(g);
    const auto part = std::span{record}.subspan(static_cast<std::size_t>(0.12 * g.rate_hz));
    request.expected_start = seconds{g.start_s - 0.12};
    const auto without = measure_glide(part, sample_rate{g.rate_hz}, request);
    request.earlier = earlier_glide{hertz{525.0}, seconds{g.earlier_s}};
    const auto with = measure_glide(part, sample_rate{g.rate_hz}, request);
    REQUIRE(without);
    REQUIRE(with);
    CHECK(with->u_time_constant < 0.2 * without->u_time_constant);
    CHECK(with->residual < without->residual);
    CHECK(std::abs(with->time_constant.value() - g.tau_s) < 3 * with->u_time_constant.value());
    CHECK(std::abs(without->time_constant.value() - g.tau_s) <
          3 * without->u_time_constant.value());
    // The moments of the record begin 120 ms later than those of the voice. Of the half hertz that the
    // earlier slide had left at the first of them, the request knows all but a two-hundredth.
    for (const double t : {0.15, 0.24, 0.27, 0.39})
        CHECK_THAT(glide_pitch(*with, seconds{t - 0.12}).value(),
                   WithinAbs(testing::pitch_of(g, t), 3e-3));
}

TEST_CASE("glide: the fitted law gives the pitch at any moment", "[analysis][glide]") {
    synthetic_glide g;
    const auto r = measure(g);
    REQUIRE(r);
    for (const double t : {0.1, 0.16, 0.2, 0.4})
        CHECK_THAT(glide_pitch(*r, seconds{t}).value(), WithinAbs(testing::pitch_of(g, t), 1e-3));
    REQUIRE(r->course.size() > 20);
    // One cycle at a time is coarse while the pitch runs; a cent is 0.06 % of pitch.
    for (const auto& point : r->course)
        CHECK_THAT(interval(point.measured, point.fitted).value(), WithinAbs(0.0, 1.0));
    CHECK_THAT(r->overshoot.value(), WithinAbs(0.0, 0.5));
}

TEST_CASE("glide: an overshoot is read though no law of the fit holds one", "[analysis][glide]") {
    synthetic_glide g;
    g.snr_db = 70;
    const bool down = GENERATE(false, true);
    if (down) std::swap(g.from_hz, g.to_hz);
    g.overshoot_cents = GENERATE(4.0, 10.0, 25.0);
    // What the exponential itself has still to go, 60 cents at the top of the overshoot, takes its
    // share: the true passage is the largest of the sum.
    double passage = 0.0;
    for (double t = g.start_s; t < g.length_s; t += 1e-4)
        passage =
            std::max(passage, (down ? -1 : 1) *
                                  interval(hertz{testing::pitch_of(g, t)}, hertz{g.to_hz}).value());
    const auto record = render(g);
    auto request = request_of(g);
    request.noise_rms = volts{record.noise_rms};
    const auto r = measure_overshoot(record.volts, sample_rate{g.rate_hz}, request);
    CAPTURE(down, g.overshoot_cents, passage);
    REQUIRE(r);
    // A piece is a cycle or two long and rounds the top off.
    CHECK_THAT(r->beyond.value(), WithinAbs(passage, 3 * r->u_beyond.value()));
    CHECK(r->u_beyond.value() < 0.5 + 0.1 * passage);
    if (const auto whole = measure(g))
        CHECK_THAT(whole->overshoot.value(), WithinAbs(r->beyond.value(), r->u_beyond.value()));
}

TEST_CASE("glide: a period that was counted wrongly is no top that windows have rounded off",
          "[analysis][glide]") {
    // One octave up from 130 Hz within 22 ms; pieces of one period, long after, with one of them high.
    const gliding::glide_law law{.at = {std::log(130.0), std::log(260.0), std::log(0.022), 0.0}};
    const auto passage_of = [&](const std::vector<double>& about_top_cents) {
        std::vector<glide_point> course;
        for (std::size_t i = 0; i < 50; ++i) {
            const double above =
                i >= 10 && i < 10 + about_top_cents.size() ? about_top_cents[i - 10] : 0.0;
            course.push_back({seconds{0.15 + static_cast<double>(i) / 260.0},
                              raised(hertz{260.0}, cents{above}), hertz{260.0}});
        }
        return gliding::overshoot_of(course, law, 0.0);
    };
    CHECK_THAT(passage_of({8.0}).beyond.value(), WithinAbs(8.0, 0.5));
    // A slide that turns round at 8 cents, through windows that reach over two pieces to either side: more
    // than is seen of it is given back.
    CHECK(passage_of({1.0, 3.0, 5.0, 6.5, 5.0, 3.0, 1.0}).beyond.value() > 7.2);
}

TEST_CASE("glide: harmonics that move under the slide are allowed for", "[analysis][glide]") {
    // An envelope closes the filter meanwhile, which no model of the voice holds.
    int read = 0;
    for (std::uint32_t seed = 101000; seed < 101012; ++seed) {
        const auto drawn = testing::draw_glide(seed, testing::glide_class::moving_filter);
        const auto r = measure_glide(render(drawn.voice).volts, sample_rate{drawn.voice.rate_hz},
                                     drawn.request);
        if (!r) continue;
        ++read;
        CAPTURE(seed);
        const double off = r->time_constant.value() - drawn.voice.tau_s;
        CHECK(std::abs(off) < 3 * r->u_time_constant.value());
    }
    CHECK(read >= 6);
}

TEST_CASE("glide: a semitone under a slowly closing filter is as uncertain as its phase drifts",
          "[analysis][glide]") {
    // A semitone at C3 makes a tenth of a cycle of phase beyond a jump's; the drift of the harmonics
    // counts against that, not against the thousands of cycles of the record.
    for (const double sweep_octaves : {0.003, 0.01, 0.03}) {
        synthetic_glide g;
        g.from_hz = 130.8;
        g.to_hz = 138.6;
        g.length_s = 0.45;
        g.snr_db = 95;
        g.decay_per_s = 0.3;
        g.filter = testing::filter_kind::ladder;
        g.cutoff_hz = 200.0;
        g.resonance = 1.0;
        g.sweep_octaves = sweep_octaves;
        g.sweep_s = 0.08;
        auto request = request_of(g);
        request.u_enough = seconds{0.005 * g.tau_s};
        const auto r = measure_glide(render(g).volts, sample_rate{g.rate_hz}, request);
        CAPTURE(sweep_octaves);
        REQUIRE(r);
        CHECK(std::abs(r->time_constant.value() - g.tau_s) < 3 * r->u_time_constant.value());
        CHECK(r->u_time_constant.value() < 0.03 * g.tau_s);
    }
}

TEST_CASE("glide: what runs past its end has the time constant of its way there",
          "[analysis][glide]") {
    // A law without overshoot would be bent by one, which the whole of a semitone feels most.
    for (const double overshoot_cents : {0.7, 2.0, 6.0}) {
        synthetic_glide g;
        g.from_hz = 130.8;
        g.to_hz = 138.6;
        g.length_s = 0.45;
        g.snr_db = 95;
        g.overshoot_cents = overshoot_cents;
        const auto r = measure(g);
        CAPTURE(overshoot_cents);
        REQUIRE(r);
        CHECK(std::abs(r->time_constant.value() - g.tau_s) < 3 * r->u_time_constant.value());
        CHECK(r->u_time_constant.value() < 0.01 * g.tau_s);
    }
}

TEST_CASE("glide: a caller who needs no more is served sooner with an honest uncertainty",
          "[analysis][glide]") {
    int read = 0;
    for (std::uint32_t seed = 101000; seed < 101012; ++seed) {
        auto drawn = testing::draw_glide(seed, testing::glide_class::typical_fixed_filter);
        drawn.request.u_enough = seconds{0.02 * drawn.voice.tau_s};
        const auto r = measure_glide(render(drawn.voice).volts, sample_rate{drawn.voice.rate_hz},
                                     drawn.request);
        if (!r) continue;
        ++read;
        CAPTURE(seed);
        const double off = r->time_constant.value() - drawn.voice.tau_s;
        // Below a hundredth of a per cent the filter model's own rounding counts.
        CHECK(std::abs(off) < 3 * r->u_time_constant.value() + 1e-4 * drawn.voice.tau_s);
    }
    CHECK(read >= 11);
}

TEST_CASE("glide: errors stay within their stated uncertainty", "[analysis][glide]") {
    // A normal law leaves 4.6 % beyond 2 u: of 24 slides, four or more with odds below 1 in 40.
    // These draws are fixed by their seed.
    int beyond_two = 0;
    for (std::uint32_t seed = 5000; seed < 5024; ++seed) {
        const auto drawn = testing::draw_glide(seed, testing::glide_class::fixed_amplitudes);
        const auto r = measure_glide(render(drawn.voice).volts, sample_rate{drawn.voice.rate_hz},
                                     drawn.request);
        CAPTURE(seed);
        REQUIRE(r);
        const double off = r->time_constant.value() - drawn.voice.tau_s;
        CHECK(std::abs(off) < 4 * r->u_time_constant.value());
        beyond_two += std::abs(off) > 2 * r->u_time_constant.value();
    }
    CHECK(beyond_two < 4);
}

TEST_CASE("glide: what cannot be read is refused", "[analysis][glide]") {
    synthetic_glide g;
    g.snr_db = 60;
    auto request = request_of(g);
    auto record = render(g).volts;
    const sample_rate rate{g.rate_hz};
    SECTION("a request without sense") {
        request.to = hertz{0};
        CHECK(measure_glide(record, rate, request).error() == refusal::bad_argument);
    }
    SECTION("a glide before that comes from nowhere, or that starts with this one") {
        request.earlier = earlier_glide{hertz{0}, 0.2_s};
        CHECK(measure_glide(record, rate, request).error() == refusal::bad_argument);
        request.earlier = earlier_glide{hertz{100}, 0_s};
        CHECK(measure_glide(record, rate, request).error() == refusal::bad_argument);
    }
    SECTION("a sample that is no number") {
        record[100] = std::numeric_limits<double>::quiet_NaN();
        CHECK(measure_glide(record, rate, request).error() == refusal::not_finite);
    }
    SECTION("a record that ends with the slide") {
        record.resize(static_cast<std::size_t>(0.2 * g.rate_hz));
        CHECK(measure_glide(record, rate, request).error() == refusal::too_short);
    }
    SECTION("silence") {
        for (double& v : record) v *= 1e-9;
        CHECK(measure_glide(record, rate, request).error() == refusal::silent);
    }
    SECTION("two pitches that are one") {
        request.to = request.from;
        CHECK(measure_glide(record, rate, request).error() == refusal::no_contrast);
    }
    SECTION("a pitch that never moves") {
        g.to_hz = g.from_hz;
        CHECK(measure_glide(render(g).volts, rate, request).error() == refusal::no_contrast);
    }
}
