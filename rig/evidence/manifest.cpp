#include "rig/evidence/manifest.hpp"

#include <algorithm>
#include <nlohmann/json.hpp>

namespace cvrig::evidence {

namespace {

using json = nlohmann::ordered_json;

json of(const packed_sound& s) {
    auto channels = json::array();
    for (const auto& c : s.channels)
        channels.push_back({{"jack", c.jack}, {"full_scale_volts", c.full_scale.value()}});
    json all{{"rate_hz", s.rate.value()}, {"frames", s.frames}, {"channels", channels}};
    if (!s.why_wave.empty()) all["why_not_flac"] = s.why_wave;
    return all;
}

json of(const packed_member& m) {
    json all{{"name", m.name}, {"bytes", m.bytes}, {"sha256", m.sha256}};
    if (m.sound) all["sound"] = of(*m.sound);
    return all;
}

json of(const packed_image& i) {
    return {{"bytes", i.bytes}, {"sha256", i.sha256}, {"inside", i.is_inside}};
}

}  // namespace

const packed_member* manifest::find(std::string_view name) const noexcept {
    const auto found = std::ranges::find(members, name, &packed_member::name);
    return found == members.end() ? nullptr : &*found;
}

std::string manifest_text(const manifest& m) {
    auto members = json::array();
    for (const auto& one : m.members) members.push_back(of(one));
    json all{{"format", "cvrig evidence 1"},
             {"packed_by", m.packed_by},
             {"read_by", m.read_by},
             {"started", m.started},
             {"module", m.module},
             {"unit", m.unit},
             {"build", {{"name", m.build_name}, {"sha256", m.build_sha256}}},
             {"bench", m.bench_name},
             {"expectations_sha256", m.expectations_sha256},
             {"bench_sha256", m.bench_sha256}};
    if (m.image) all["image"] = of(*m.image);
    all["sound"] =
        "FLAC of 24 bit: volts = sample value (-1 to 1) x full_scale_volts, rounded by at "
        "most 2^-24 of it; WAV of 32-bit floats: volts = sample value.";
    all["left_out"] = m.left_out;
    all["members"] = members;
    return all.dump(2, ' ', false, json::error_handler_t::replace) + "\n";
}

}  // namespace cvrig::evidence
