// The manifest of an evidence file.

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "rig/evidence/manifest.hpp"
#include "rig/expectations/user_error.hpp"

using namespace cvrig;
using namespace cvrig::evidence;
using Catch::Matchers::Contains;
using nlohmann::json;

namespace {

manifest sample() {
    manifest m;
    m.packed_by = "0.2.0";
    m.read_by = "0.1.0";
    m.started = "2026-11-25T20:15:30Z";
    m.module = "Ferrule";
    m.unit = "7";
    m.build_name = "good";
    m.build_sha256 = std::string(64, 'b');
    m.bench_name = "desk";
    m.expectations_sha256 = std::string(64, 'e');
    m.bench_sha256 = std::string(64, 'f');
    m.image = packed_image{1000, std::string(64, '1'), false};
    m.left_out = {"The firmware file."};
    for (const char* name : {"report.json", "expectations.yaml", "bench.yaml", "run.json"})
        m.members.push_back({name, 10, std::string(64, '0'), {}});
    m.members.push_back(
        {"takes/mode=tied,attempt=1/response-1.flac", 100, std::string(64, '2'),
         packed_sound{
             sample_rate{48000.0}, 1000, {{"left", volts{8.0}}, {"right", volts{0.5}}}, {}}});
    return m;
}

struct change {
    std::string at, to;  ///< a JSON pointer, and JSON
};

}  // namespace

TEST_CASE("a manifest says the same again", "[evidence]") {
    const auto text = manifest_text(sample());
    CHECK(manifest_text(read_manifest(text, "x")) == text);
    const auto again = read_manifest(text, "x");
    CHECK(again.unit == "7");
    CHECK_FALSE(again.image->is_inside);
    const auto* sound = again.find("takes/mode=tied,attempt=1/response-1.flac");
    REQUIRE(sound != nullptr);
    CHECK_THAT(sound->sound->channels[1].full_scale.value(),
               Catch::Matchers::WithinAbs(0.5, 0.0));  // a power of two is exact
    CHECK(again.find("image") == nullptr);
}

TEST_CASE("a manifest with any one thing wrong is refused in one sentence", "[evidence]") {
    const auto wrong = GENERATE(values<change>({
        {"/unit", "7"},
        {"/build", "[]"},
        {"/build/sha256", "\"12\""},
        {"/expectations_sha256", "\"\""},
        {"/bench_sha256", "null"},
        {"/image/bytes", "-1"},
        {"/image/inside", "1"},
        {"/left_out", "[1]"},
        {"/members", "{}"},
        {"/members", "[]"},
        {"/members/0/name", "\"../x\""},
        {"/members/0/name", "\"run.json\""},
        {"/members/0/bytes", "1e30"},
        {"/members/0/bytes", "99999999999"},
        {"/members/0/sha256", "\"zz\""},
        {"/members/4/sound", "null"},
        {"/members/4/sound/rate_hz", "0"},
        {"/members/4/sound/frames", "99999999999"},
        {"/members/4/sound/channels", "[]"},
        {"/members/4/sound/channels/0/full_scale_volts", "0.3"},
        {"/members/4/sound/channels/0/full_scale_volts", "0"},
        {"/members/4/sound/channels/0/full_scale_volts", "null"},
        {"/members/4/sound/channels/0/jack", "1"},
    }));
    CAPTURE(wrong.at, wrong.to);
    auto all = json::parse(manifest_text(sample()));
    all.at(json::json_pointer{wrong.at}) = json::parse(wrong.to);
    try {
        (void)read_manifest(all.dump(), "unit7.cvrig-evidence");
        FAIL("it was taken");
    } catch (const user_error& e) {
        CHECK_THAT(e.what(), Contains("manifest of unit7.cvrig-evidence"));
        CHECK(std::string{e.what()}.find('\n') == std::string::npos);
    }
}

TEST_CASE("a manifest without any one key is refused", "[evidence]") {
    const auto all = json::parse(manifest_text(sample()));
    for (const auto& item : all.items()) {
        // The image may be missing, and the sentence on sound is for people.
        if (item.key() == "image" || item.key() == "sound") continue;
        auto without = all;
        without.erase(item.key());
        CAPTURE(item.key());
        CHECK_THROWS_AS(read_manifest(without.dump(), "x"), user_error);
    }
}
