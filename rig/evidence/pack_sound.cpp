#include "rig/evidence/pack_sound.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <iterator>

#include "rig/platform/files.hpp"
#include "rig/stimulus/flac_file.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

/// Up to 8 channels of a take.
struct group {
    recording sound;
    std::vector<packed_channel> channels;
    std::string why_wave{};
};

/// What every FLAC reader plays (RFC 9639, 7: the streamable subset's sample rates).
bool is_flac_rate(sample_rate rate) {
    const double hz = rate.value();
    return hz == std::round(hz) &&
           (hz <= 65535.0 || (hz <= 655350.0 && std::fmod(hz, 10.0) == 0.0));
}

group group_of(const recording& r, const std::vector<std::string>& jacks, std::size_t first) {
    group out;
    out.sound.rate = r.rate;
    const auto end = std::min(first + most_flac_channels, r.channels.size());
    if (!is_flac_rate(r.rate)) out.why_wave = "FLAC has no such sample rate.";
    for (auto c = first; c < end; ++c) {
        const auto scale = full_scale_for(r.channels[c]);
        if (!scale) out.why_wave = fmt::format("A sample of '{}' is not finite.", jacks[c]);
        out.sound.channels.push_back(r.channels[c]);
        out.channels.push_back({jacks[c], scale.value_or(volts{1.0})});
    }
    if (!out.why_wave.empty())
        for (auto& c : out.channels) c.full_scale = volts{1.0};
    return out;
}

std::vector<volts> scales_of(const std::vector<packed_channel>& channels) {
    std::vector<volts> out;
    std::ranges::transform(channels, std::back_inserter(out), &packed_channel::full_scale);
    return out;
}

ready_member written(const fs::path& file, std::string name, const group& g) {
    if (g.why_wave.empty())
        write_flac_file(file, g.sound, scales_of(g.channels));
    else
        write_wave_file(file, g.sound);
    packed_member what{name, fs::file_size(file), sha256_of_file(file),
                       packed_sound{g.sound.rate, g.sound.size(), g.channels, g.why_wave}};
    return {std::move(what), {std::move(name), file}};
}

[[noreturn]] void refuse(const packed_member& m) {
    throw user_error{
        fmt::format("The sound '{}' is not what the manifest says; have the evidence made "
                    "again with `cvrig pack`.",
                    m.name)};
}

void require_as_told(const packed_member& m, const wave_format& is) {
    if (is.rate != m.sound->rate || is.frames != m.sound->frames ||
        is.channels != m.sound->channels.size())
        refuse(m);
}

recording read_one(const packed_member& m, const fs::path& file) {
    if (!m.name.ends_with(".flac")) {
        require_as_told(m, read_wave_format(file));
        return read_wave_file(file, m.sound->channels.size());
    }
    // The size first: a few bytes of FLAC can hold hours of silence.
    const auto format = read_flac_format(file);
    if (!format) refuse(m);
    require_as_told(m, *format);
    return read_flac_file(file, scales_of(m.sound->channels));
}

}  // namespace

std::vector<ready_member> pack_sound(const fs::path& folder, const std::string& name,
                                     const recording& r, const std::vector<std::string>& jacks) {
    assert(jacks.size() == r.channels.size());
    std::vector<ready_member> out;
    for (std::size_t first = 0; first < r.channels.size(); first += most_flac_channels) {
        const auto g = group_of(r, jacks, first);
        const auto member =
            fmt::format("{}-{}.{}", name, out.size() + 1, g.why_wave.empty() ? "flac" : "wav");
        fs::create_directories((folder / member).parent_path());
        out.push_back(written(folder / member, member, g));
    }
    return out;
}

recording unpack_sound(const std::vector<packed_member>& members,
                       const std::vector<fs::path>& files) {
    assert(members.size() == files.size());
    recording out;
    for (std::size_t i = 0; i < members.size(); ++i) {
        auto part = read_one(members[i], files[i]);
        if (!out.channels.empty() && (part.size() != out.size() || part.rate != out.rate))
            refuse(members[i]);
        out.rate = part.rate;
        std::ranges::move(part.channels, std::back_inserter(out.channels));
    }
    return out;
}

double rounding_volts(const std::vector<ready_member>& members) {
    double most = 0.0;
    for (const auto& m : members)
        if (m.what.sound->why_wave.empty())
            for (const auto& c : m.what.sound->channels)
                most = std::max(most, flac_rounding * c.full_scale.value());
    return most;
}

}  // namespace cvrig::evidence
