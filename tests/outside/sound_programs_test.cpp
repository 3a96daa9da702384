#include <catch2/catch.hpp>

#include <algorithm>
#include <cmath>
#include <filesystem>
#include <numbers>
#include <sstream>
#include <string>
#include <vector>

#include "analysis/dropouts.hpp"
#include "analysis/noise_floor.hpp"
#include "analysis/steady_lines.hpp"
#include "analysis/transients.hpp"
#include "analysis/wave_pitch.hpp"
#include "analysis/wave_profile.hpp"
#include "rig/checks/filter_closing.hpp"
#include "rig/platform/process.hpp"
#include "rig/stimulus/wave_file.hpp"
#include "tests/support/synthetic_tone.hpp"

using namespace cvrig;
using namespace cvrig::analysis;
using namespace cvrig::literals;
using Catch::Matchers::WithinAbs;

namespace {

/// A folder of its own, gone with the test.
class folder {
public:
    folder() {
        auto name = (std::filesystem::temp_directory_path() / "cvrig-XXXXXX").string();
        if (mkdtemp(name.data()) == nullptr) throw std::runtime_error{"no temporary folder"};
        path_ = name;
    }
    folder(const folder&) = delete;
    folder& operator=(const folder&) = delete;
    ~folder() {
        std::error_code ignored;
        std::filesystem::remove_all(path_, ignored);
    }
    [[nodiscard]] std::string file(const std::string& name) const {
        return (path_ / name).string();
    }

private:
    std::filesystem::path path_;
};

process_result ran(const std::vector<std::string>& argv) {
    auto r = run_process(argv);
    INFO(argv.front() << ": " << r.reason << r.err.text);
    REQUIRE(r.how == process_result::ending::exited);
    REQUIRE(r.status == 0);
    return r;
}

void write_volts(const std::string& file, sample_rate rate, const std::vector<double>& x) {
    write_wave_file(file, {rate, {std::vector<float>(x.begin(), x.end())}});
}

line_reader reader_of(const std::vector<double>& x, sample_rate rate) {
    auto out = line_reader::of(x, rate);
    REQUIRE(out);
    return std::move(*out);
}

std::vector<double> hum(double peak, double hz, sample_rate rate, std::size_t n) {
    std::vector<double> out(n);
    for (std::size_t i = 0; i < n; ++i)
        out[i] =
            peak * std::sin(2.0 * std::numbers::pi * hz * static_cast<double>(i) / rate.value());
    return out;
}

/// Louder below than above: one pole at 400 Hz.
std::vector<double> coloured(std::vector<double> white, sample_rate rate) {
    const double keep = std::exp(-2.0 * std::numbers::pi * 400.0 / rate.value());
    double state = 0.0;
    for (double& v : white) v = state = keep * state + (1.0 - keep) * v;
    return white;
}

}  // namespace

TEST_CASE("csound: its saw, square, blend and pulse are named as what they are", "[outside]") {
    const folder here;
    const auto file = here.file("waves.wav");
    ran({"csound", "-d", "-m0", "-f", "-W", "-o", file, CVRIG_OUTSIDE "/waves.csd"});
    const auto sound = read_wave_file(file, 4);
    REQUIRE(sound.rate == sample_rate{48000.0});
    struct row {
        const char* name;
        std::size_t channel;
        classic_wave closest;
        double square_share, high_share;
    };
    // Its tables are interpolated: 0.5 % of a harmonic. Its pulse is high for 40 % or for 60 %.
    for (const auto& r : {row{"saw", 0, classic_wave::saw, 0.0, 50.0},
                          row{"square", 1, classic_wave::square, 100.0, 50.0},
                          row{"blend", 2, classic_wave::blend, 50.0, 50.0},
                          row{"pulse", 3, classic_wave::square, 100.0, 40.0}}) {
        CAPTURE(r.name);
        const auto& samples = sound.channels[r.channel];
        REQUIRE(samples.size() > 16000);
        const std::vector<double> x(samples.begin() + 1000, samples.begin() + 15000);
        const auto spectrum = reader_of(x, sound.rate);
        const auto pitch = pitch_of_wave(spectrum, 130_Hz, 13);
        REQUIRE(pitch);
        CHECK_THAT(pitch->value(), WithinAbs(130.77, 0.01));
        const auto p = profile_of(spectrum, *pitch, 13);
        REQUIRE(p);
        CHECK_THAT(std::abs(p->high_share.value - 50.0), WithinAbs(50.0 - r.high_share, 0.5));
        if (r.channel == 3) {
            CHECK(distance_db(*p, r.closest).value > -12.0);
            continue;
        }
        CHECK_THAT(square_share_percent(*p).value, WithinAbs(r.square_share, 0.5));
        CHECK(distance_db(*p, r.closest).value < -40.0);
    }
}

TEST_CASE("csound: its bass notes hold no click or hole, and those that are put in are found",
          "[outside]") {
    const auto* rate = GENERATE("44100", "96000");
    const folder here;
    const auto file = here.file("basses.wav");
    ran({"csound", "-d", "-m0", "-f", "-W", "-r", rate, "-k", rate, "-o", file,
         CVRIG_OUTSIDE "/basses.csd"});
    const auto sound = read_wave_file(file, 4);
    for (std::size_t channel = 0; channel < 4; ++channel) {
        CAPTURE(rate, channel);
        const auto& samples = sound.channels[channel];
        std::vector<double> x(samples.begin(), samples.end());
        const double peak =
            std::abs(*std::ranges::max_element(x, {}, [](double v) { return std::abs(v); }));
        const auto clicks = [&] {
            const auto found = find_clicks(x, sound.rate, {.highest_pitch = hertz{100.0}});
            REQUIRE(found);
            return *found;
        };
        const auto gaps = [&] {
            const auto found = find_gaps(x, sound.rate, volts{1e-6}, volts{0.0}, hertz{100.0});
            REQUIRE(found);
            return *found;
        };
        CHECK(clicks().clicks.empty());
        CHECK(clicks().threshold < volts{1e-2 * peak});
        CHECK(gaps().empty());
        // Clear of the edges and corners of all four.
        const auto at = static_cast<std::size_t>(0.353 * sound.rate.value());
        // 30 dB below the peak, dying away in 2 ms.
        for (std::size_t i = at; i < x.size(); ++i)
            x[i] += 0.032 * peak *
                    std::exp(-static_cast<double>(i - at) / (0.002 * sound.rate.value()));
        REQUIRE(clicks().clicks.size() == 1);
        CHECK_THAT(clicks().clicks.front().at_samples, WithinAbs(static_cast<double>(at), 2.0));
        for (std::size_t i = at; i < at + 100; ++i) x[i] = 0.0;
        CHECK(gaps().size() == 1);
    }
}

TEST_CASE("csound: the time with which its filters close is read", "[outside]") {
    const folder here;
    const auto file = here.file("closing.wav");
    ran({"csound", "-d", "-m0", "-f", "-W", "-o", file, CVRIG_OUTSIDE "/closing.csd"});
    const auto sound = read_wave_file(file, 3);
    const auto length = static_cast<std::size_t>(0.55 * sound.rate.value());
    for (const std::size_t channel : {0U, 1U, 2U}) {
        CAPTURE(channel);
        const auto& samples = sound.channels[channel];
        REQUIRE(samples.size() > length);
        heard_passage heard{.asked = {},
                            .rate = sound.rate,
                            .step_starts = {0},
                            .end = length,
                            .volts = {{samples.begin(), samples.end()}},
                            .silence = {test_support::white_noise(4800, volts{1e-5}, 3)}};
        const auto r = hear_closing(heard, 0, hertz{130.77});
        REQUIRE(r);
        // What the check itself states of a filter that rests at 250 Hz: 1 %, and 3 sigma of it.
        CHECK_THAT(r->closing.time_constant.value(), WithinAbs(0.15, 0.0025));
        CHECK_THAT(r->closing.opened.value(), WithinAbs(2.2, 0.05));
    }
}

TEST_CASE("sox: its rms of a noise is the unweighted level", "[outside]") {
    // Up to 20 kHz is all that a rate of 40 kHz has; the 20 Hz below are 0.004 dB.
    const sample_rate rate{40000.0};
    const folder here;
    const auto x = test_support::white_noise(80000, 1_mV, 11);
    write_volts(here.file("noise.wav"), rate, x);
    const auto said = ran({"sox", here.file("noise.wav"), "-n", "stat"}).err.text;
    const auto at = said.find("RMS     amplitude:");
    REQUIRE(at != std::string::npos);
    const double rms = std::stod(said.substr(at + 18));
    const auto ours = noise_in_band(reader_of(x, rate), 20_Hz, 20_kHz);
    REQUIRE(ours);
    // It prints six decimals: 0.001000 to 5e-7, which is 0.0043 dB; ours weighs the record's middle
    // more, so both differ by some of the scatter.
    CHECK_THAT(ours->flat.level().value(),
               WithinAbs(to_dbu(volts{rms}).value(), 0.0087 + 3.0 * ours->flat.u().value()));
}

TEST_CASE("scipy: Welch's method, A weighting and a flat-top window give the same dBu",
          "[outside]") {
    const sample_rate rate{GENERATE(44100.0, 48000.0, 96000.0)};
    const double mains_hz = GENERATE(50.07, 59.9);
    CAPTURE(rate.value(), mains_hz);
    const auto n = static_cast<std::size_t>(2.0 * rate.value());
    const auto x = test_support::sum(coloured(test_support::white_noise(n, 3_mV, 5), rate),
                                     hum(1e-3, mains_hz, rate, n));
    const folder here;
    write_volts(here.file("silence.wav"), rate, x);
    std::istringstream said{ran({"/usr/bin/python3", CVRIG_OUTSIDE "/noise_by_scipy.py",
                                 here.file("silence.wav"), std::to_string(mains_hz)})
                                .out.text};
    double flat = 0.0;
    double weighted = 0.0;
    double line = 0.0;
    REQUIRE(said >> flat >> weighted >> line);
    const auto spectrum = reader_of(x, rate);
    const auto ours = noise_in_band(spectrum, 20_Hz, 20_kHz);
    REQUIRE(ours);
    // Both are estimates from one record, with windows that weigh it differently: they differ by no
    // more than each scatters.
    CHECK_THAT(ours->flat.level().value(),
               WithinAbs(to_dbu(volts{flat}).value(), 3.0 * ours->flat.u().value()));
    CHECK_THAT(ours->a_weighted.level().value(),
               WithinAbs(to_dbu(volts{weighted}).value(), 3.0 * ours->a_weighted.u().value()));
    const auto lines = mains_lines(spectrum, hertz{std::round(mains_hz / 10.0) * 10.0}, 10);
    const auto& worst = *std::max_element(
        lines.begin(), lines.end(), [](const auto& a, const auto& b) { return a.peak < b.peak; });
    // The flat top lets in more noise than our window: 3.8 bins against 1.9.
    CHECK_THAT(worst.level().level.value(), WithinAbs(20.0 * std::log10(line / std::sqrt(1.2)),
                                                      5.0 * worst.level().u.value() + 0.02));
    CHECK_THAT(worst.frequency.value(), WithinAbs(mains_hz, 0.02));
}
