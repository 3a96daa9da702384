// Sound as it lies in evidence: FLAC of 24 bit with a scale for each channel.

#include <rapidcheck.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <limits>
#include <sstream>

#include "outside_programs.hpp"
#include "rig/evidence/pack_sound.hpp"
#include "rig/platform/files.hpp"
#include "rig/stimulus/flac_file.hpp"

using namespace cvrig;
using namespace cvrig::evidence;
using namespace cvrig::testing;
using Catch::Matchers::WithinAbs;
namespace fs = std::filesystem;

namespace {

/// A channel of a few volts that reaches everywhere between its ends.
std::vector<float> wavy(std::size_t frames, double volts_peak, double step) {
    std::vector<float> out(frames);
    for (std::size_t i = 0; i < frames; ++i)
        out[i] = static_cast<float>(volts_peak * std::sin(step * static_cast<double>(i * i)));
    return out;
}

double largest_difference(const std::vector<float>& a, const std::vector<float>& b) {
    REQUIRE(a.size() == b.size());
    double most = 0.0;
    for (std::size_t i = 0; i < a.size(); ++i)
        most = std::max(most, std::abs(static_cast<double>(a[i]) - static_cast<double>(b[i])));
    return most;
}

recording channels(std::size_t count) {
    recording r{sample_rate{48000.0}, {}};
    for (std::size_t c = 0; c < count; ++c)
        r.channels.push_back(wavy(5000, 0.3 * static_cast<double>(c + 1), 1e-4));
    return r;
}

std::vector<std::string> names_of(std::size_t count) {
    std::vector<std::string> out;
    for (std::size_t c = 0; c < count; ++c) out.push_back("jack " + std::to_string(c + 1));
    return out;
}

recording again(const std::vector<ready_member>& packed) {
    std::vector<packed_member> members;
    std::vector<fs::path> files;
    for (const auto& m : packed) {
        members.push_back(m.what);
        files.push_back(m.from.file);
    }
    return unpack_sound(members, files);
}

}  // namespace

TEST_CASE("full scale is the smallest power of two that does not clip", "[evidence]") {
    // Powers of two are exact.
    const auto is = [](float v, double full_scale) {
        CHECK_THAT(full_scale_for(std::vector{0.0F, v}).value().value(),
                   WithinAbs(full_scale, 0.0));
    };
    is(0.0F, 1.0);
    is(5.0F, 8.0);
    is(-5.0F, 8.0);
    is(0.3F, 0.5);
    is(1e-12F, 0x1p-20);
    // Full scale itself is no number of 24 bit, nor is what rounds up to it.
    is(1.0F, 2.0);
    is(std::nextafter(1.0F, 0.0F), 2.0);
    is(1.0F - 0x1p-23F, 1.0);
    for (const float v : {NAN, INFINITY, -INFINITY})
        CHECK_FALSE(full_scale_for(std::vector{1.0F, v}).has_value());
}

TEST_CASE("FLAC gives every sample back within 2^-24 of its channel's full scale", "[evidence]") {
    const temporary_folder folder;
    rc::check("rounding", [&] {
        const auto integers = *rc::gen::nonEmpty<std::vector<std::int32_t>>();
        const auto exponent = *rc::gen::inRange(-40, 12);
        recording r{sample_rate{48000.0}, {{}, {}}};
        for (const auto n : integers) {
            r.channels[0].push_back(static_cast<float>(std::ldexp(n, exponent - 31)));
            r.channels[1].push_back(static_cast<float>(n % 1000) * 1e-3F);
        }
        const std::vector scales{full_scale_for(r.channels[0]).value(),
                                 full_scale_for(r.channels[1]).value()};
        const auto file = folder.path() / "x.flac";
        write_flac_file(file, r, scales);
        const auto back = read_flac_file(file, scales);
        for (std::size_t c = 0; c < 2; ++c)
            RC_ASSERT(largest_difference(back.channels[c], r.channels[c]) <=
                      flac_rounding * scales[c].value());
        // What was rounded once is not rounded again.
        write_flac_file(folder.path() / "y.flac", back, scales);
        RC_ASSERT(bytes_of(folder.path() / "y.flac") == bytes_of(file));
    });
}

TEST_CASE("takes of more than 8 channels are split and joined again", "[evidence]") {
    const temporary_folder folder;
    const auto count = GENERATE(std::size_t{1}, std::size_t{8}, std::size_t{9}, std::size_t{20});
    const auto sent = channels(count);
    const auto packed = pack_sound(folder.path(), "takes/x/stimulus", sent, names_of(count));
    REQUIRE(packed.size() == (count + 7) / 8);
    CHECK(packed[0].what.name == "takes/x/stimulus-1.flac");
    CHECK(packed.back().what.sound->channels.back().jack == names_of(count).back());
    const auto back = again(packed);
    REQUIRE(back.channels.size() == count);
    CHECK(back.rate == sent.rate);
    for (std::size_t c = 0; c < count; ++c)
        CHECK(largest_difference(back.channels[c], sent.channels[c]) <= rounding_volts(packed));
    // The largest channel of 20 reaches 6 V, so that full scale is 8 V at most.
    CHECK(rounding_volts(packed) <= 8.0 * flac_rounding);
}

TEST_CASE("sound that FLAC cannot hold stays WAV, bit by bit, and says why", "[evidence]") {
    const temporary_folder folder;
    auto heard = channels(2);
    SECTION("a sample that is not a number") {
        heard.channels[1][7] = NAN;
        heard.channels[1][8] = INFINITY;
    }
    SECTION("a sample rate that FLAC's readers do not know") {
        heard.rate = sample_rate{96001.0};
    }
    const auto packed = pack_sound(folder.path(), "takes/x/response", heard, {"left", "right"});
    REQUIRE(packed.size() == 1);
    CHECK(packed[0].what.name == "takes/x/response-1.wav");
    CHECK_FALSE(packed[0].what.sound->why_wave.empty());
    CHECK_THAT(packed[0].what.sound->channels[0].full_scale.value(), WithinAbs(1.0, 0.0));
    const auto back = again(packed);
    REQUIRE(back.channels.size() == 2);
    for (std::size_t c = 0; c < 2; ++c)
        for (std::size_t i = 0; i < heard.size(); ++i) {
            std::uint32_t was = 0, is = 0;
            std::memcpy(&was, &heard.channels[c][i], sizeof was);
            std::memcpy(&is, &back.channels[c][i], sizeof is);
            REQUIRE(was == is);
        }
}

TEST_CASE("sound that is not what the manifest says is refused before it fills the memory",
          "[evidence]") {
    const temporary_folder folder;
    auto packed = pack_sound(folder.path(), "takes/x/response", channels(2), {"left", "right"});
    auto& sound = *packed[0].what.sound;
    SECTION("fewer frames") {
        sound.frames -= 1;
    }
    SECTION("another rate") {
        sound.rate = sample_rate{44100.0};
    }
    SECTION("another number of channels") {
        sound.channels.pop_back();
    }
    SECTION("no FLAC at all") {
        write_file_atomically(packed[0].from.file, "no sound");
    }
    SECTION("FLAC that ends early") {
        auto bytes = bytes_of(packed[0].from.file);
        write_file_atomically(packed[0].from.file, bytes.substr(0, bytes.size() / 2));
    }
    CHECK_THROWS_AS(again(packed), user_error);
}

TEST_CASE("flac and SoX read the same samples", "[evidence][outside]") {
    const temporary_folder folder;
    const auto sent = channels(3);
    const auto packed = pack_sound(folder.path(), "stimulus", sent, names_of(3));
    const auto file = packed[0].from.file.string();
    (void)output_of({"flac", "--silent", "--test", file});
    // SoX writes 32-bit integers of which FLAC fills the upper 24.
    const auto raw = (folder.path() / "out.s32").string();
    (void)output_of({"sox", file, "--type", "s32", raw});
    const auto bytes = bytes_of(raw);
    REQUIRE(bytes.size() == 4 * 3 * sent.size());
    const auto back = again(packed);
    for (std::size_t i = 0; i < sent.size(); ++i)
        for (std::size_t c = 0; c < 3; ++c) {
            std::int32_t n = 0;
            std::memcpy(&n, bytes.data() + 4 * (3 * i + c), 4);
            const double volts_by_sox = static_cast<double>(n) * 0x1p-31 *
                                        packed[0].what.sound->channels[c].full_scale.value();
            // Both are a 24-bit number times a power of two: the same double.
            REQUIRE(std::abs(volts_by_sox - static_cast<double>(back.channels[c][i])) < 1e-15);
        }
}
