#include "demo/alsa/channel_map.hpp"
#include "demo/user_mistake.hpp"

#include <catch2/catch.hpp>
#include <string>

using Catch::Matchers::Contains;
using ferrule::jack_count;
using ferrule::output_count;

namespace {

using channels = std::vector<std::vector<float>>;

ferrule::channel_map map_of(const std::vector<std::string>& names, const std::string& loop = {},
                            std::size_t fewest_outputs = 2) {
    return ferrule::read_channel_map(names, loop, fewest_outputs, 10.0);
}

/// Keeps what its jacks were given, and puts known volts on its outputs.
class module_of_paper : public ferrule::audio_worker {
public:
    void process(std::size_t frames, std::span<const float* const> in,
                 std::span<float* const> out) noexcept override {
        REQUIRE(in.size() == jack_count);
        REQUIRE(out.size() == output_count);
        for (std::size_t i = 0; i < jack_count; ++i) heard.emplace_back(in[i], in[i] + frames);
        for (std::size_t at = 0; at < frames; ++at) {
            out[0][at] = left_volts;
            out[1][at] = right_volts;
        }
    }

    channels heard;
    float left_volts = 2.5F;
    float right_volts = -5.0F;
};

/// What comes out of the interface's outputs when every input i holds i + 1 tenths of full scale.
channels through(const ferrule::channel_map& map, module_of_paper& module) {
    constexpr std::size_t frames = 3;
    channels in;
    std::vector<const float*> ins;
    for (std::size_t i = 0; i < map.inputs; ++i) {
        in.emplace_back(frames, static_cast<float>(i + 1) / 10.0F);
    }
    for (const auto& one : in) ins.push_back(one.data());
    // What an output buffer holds before it is filled must not be heard.
    channels out(map.outputs, std::vector<float>(frames, 99.0F));
    std::vector<float*> outs;
    for (auto& one : out) outs.push_back(one.data());
    ferrule::channel_adapter{map, module, 8}.process(frames, ins, outs);
    return out;
}

}  // namespace

TEST_CASE("channels of an interface reach the jacks that they are named after, in volts") {
    const auto map = map_of({"gate", "-", "pitch", "decay"});
    CHECK(map.inputs == 4);
    CHECK(map.outputs == 2);
    module_of_paper module;
    through(map, module);
    REQUIRE(module.heard.size() == jack_count);
    // Full scale is 10 V: a tenth of it is 1 V. Jacks without a channel stay at 0 V.
    CHECK(module.heard[0] == std::vector<float>(3, 3.0F));
    CHECK(module.heard[1] == std::vector<float>(3, 1.0F));
    CHECK(module.heard[2] == std::vector<float>(3, 0.0F));
    CHECK(module.heard[3] == std::vector<float>(3, 0.0F));
    CHECK(module.heard[4] == std::vector<float>(3, 0.0F));
    CHECK(module.heard[5] == std::vector<float>(3, 4.0F));
}

TEST_CASE("without names the channels are the jacks in their order") {
    const auto map = map_of({});
    CHECK(map.inputs == jack_count);
    module_of_paper module;
    through(map, module);
    for (std::size_t i = 0; i < jack_count; ++i) {
        CHECK(module.heard[i] == std::vector<float>(3, static_cast<float>(i + 1)));
    }
}

TEST_CASE("the module's outputs are shares of full scale and clip there, the rest is silent") {
    module_of_paper module;
    const auto out = through(map_of({"pitch"}, "", 4), module);
    REQUIRE(out.size() == 4);
    CHECK(out[0] == std::vector<float>(3, 0.25F));
    CHECK(out[1] == std::vector<float>(3, -0.5F));
    CHECK(out[2] == std::vector<float>(3, 0.0F));
    CHECK(out[3] == std::vector<float>(3, 0.0F));
    module.left_volts = 12.0F;
    module.right_volts = -12.0F;
    const auto clipped = through(map_of({"pitch"}), module);
    CHECK(clipped[0] == std::vector<float>(3, 1.0F));
    CHECK(clipped[1] == std::vector<float>(3, -1.0F));
}

TEST_CASE("the loop-back goes from an input straight to an output, sample for sample") {
    const auto map = map_of({"pitch", "gate", "accent", "slide", "cutoff", "-", "loop"}, "7:3");
    CHECK(map.inputs == 7);
    CHECK(map.outputs == 3);
    module_of_paper module;
    CHECK(through(map, module)[2] == std::vector<float>(3, 0.7F));
    // A loop-back beyond the named channels adds those that it needs.
    const auto wide = map_of({"pitch"}, "8:5");
    CHECK(wide.inputs == 8);
    CHECK(wide.outputs == 5);
    CHECK(through(wide, module)[4] == std::vector<float>(3, 0.8F));
}

TEST_CASE("a wrong channel list is refused in one sentence") {
    CHECK_THROWS_WITH(map_of({"pitsch"}), Contains("There is no jack \"pitsch\""));
    CHECK_THROWS_WITH(map_of({"gate", "gate"}), Contains("The jack gate is named twice"));
    CHECK_THROWS_WITH(map_of({"pitch", "loop"}), Contains("say loop=2:3"));
    CHECK_THROWS_WITH(map_of({"pitch", "loop"}, "1:3"), Contains("no loop-back begins there"));
    CHECK_THROWS_WITH(map_of({}, "7"), Contains("write it as INPUT:OUTPUT"));
    CHECK_THROWS_WITH(map_of({}, "7:2"), Contains("left and right"));
    CHECK_THROWS_WITH(map_of({}, "0:3"), Contains("a channel"));
    CHECK_THROWS_WITH(map_of(std::vector<std::string>(33, "-")), Contains("32 channels"));
}
