#include "rig/stimulus/flac_file.hpp"

#include <fmt/format.h>
#include <sndfile.h>

#include <algorithm>
#include <cassert>
#include <cmath>
#include <cstdint>
#include <memory>

namespace cvrig {

namespace {

namespace fs = std::filesystem;

constexpr double steps = 0x1p23;  // from 0 to full scale in 24 bit
constexpr std::size_t block_frames = 4096;
constexpr int lowest_exponent = -20;

struct closer {
    void operator()(SNDFILE* f) const noexcept { sf_close(f); }
};
using open_flac = std::unique_ptr<SNDFILE, closer>;

// The library takes 24 bit in the upper part of 32.
std::int32_t as_integer(float v, volts full_scale) {
    const double scaled = std::round(static_cast<double>(v) / full_scale.value() * steps);
    assert(scaled >= -steps && scaled < steps);
    return static_cast<std::int32_t>(scaled) * 256;
}

float as_volts(std::int32_t sample, volts full_scale) {
    // 24 bit times a power of two: exact in a float.
    return static_cast<float>(static_cast<double>(sample / 256) * (full_scale.value() / steps));
}

[[noreturn]] void refuse_to_write(const fs::path& file, const char* why) {
    throw user_error{fmt::format("cannot write '{}': {}", file.string(), why)};
}

void write_frames(SNDFILE* to, const fs::path& file, const recording& r,
                  std::span<const volts> full_scales) {
    std::vector<int> block;
    for (std::size_t first = 0; first < r.size(); first += block_frames) {
        const auto end = std::min(first + block_frames, r.size());
        block.clear();
        for (std::size_t i = first; i < end; ++i)
            for (std::size_t c = 0; c < r.channels.size(); ++c)
                block.push_back(as_integer(r.channels[c][i], full_scales[c]));
        const auto wanted = static_cast<sf_count_t>(end - first);
        if (sf_writef_int(to, block.data(), wanted) != wanted)
            refuse_to_write(file, "the disk is full; free some space");
    }
}

struct opened {
    open_flac flac;
    wave_format format;
};

opened open(const fs::path& file) {
    SF_INFO info{};
    open_flac flac{sf_open(file.c_str(), SFM_READ, &info)};
    if (flac == nullptr || info.format != (SF_FORMAT_FLAC | SF_FORMAT_PCM_24) || info.frames <= 0)
        return {};
    return {
        std::move(flac),
        {sample_rate{static_cast<double>(info.samplerate)}, static_cast<std::size_t>(info.channels),
         static_cast<std::size_t>(info.frames), false, "FLAC, 24 bit"}};
}

}  // namespace

std::optional<volts> full_scale_for(std::span<const float> samples) noexcept {
    float highest = 0.0F;
    for (const float v : samples) {
        if (!std::isfinite(v)) return std::nullopt;
        highest = std::max(highest, std::abs(v));
    }
    if (highest == 0.0F) return volts{1.0};
    int exponent = 0;
    const double part = std::frexp(static_cast<double>(highest), &exponent);
    // What would round up to full scale clips.
    if (part > 1.0 - 1.0 / steps) ++exponent;
    return volts{std::ldexp(1.0, std::max(exponent, lowest_exponent))};
}

void write_flac_file(const fs::path& file, const recording& r, std::span<const volts> full_scales) {
    assert(!r.channels.empty() && r.channels.size() <= most_flac_channels);
    assert(r.channels.size() == full_scales.size());
    SF_INFO info{};
    info.samplerate = static_cast<int>(std::lround(r.rate.value()));
    info.channels = static_cast<int>(r.channels.size());
    info.format = SF_FORMAT_FLAC | SF_FORMAT_PCM_24;
    const open_flac to{sf_open(file.c_str(), SFM_WRITE, &info)};
    if (to == nullptr) refuse_to_write(file, sf_strerror(nullptr));
    write_frames(to.get(), file, r, full_scales);
}

std::optional<wave_format> read_flac_format(const fs::path& file) {
    const auto [flac, format] = open(file);
    if (flac == nullptr) return std::nullopt;
    return format;
}

recording read_flac_file(const fs::path& file, std::span<const volts> full_scales) {
    const auto [flac, format] = open(file);
    if (flac == nullptr) throw wave_file_error{file, "it is not FLAC of 24 bit"};
    const std::size_t count = full_scales.size();
    if (format.channels != count)
        throw wave_file_error{
            file, fmt::format("it has {} channels instead of {}", format.channels, count)};
    recording out{format.rate, std::vector<std::vector<float>>(count)};
    for (auto& channel : out.channels) channel.reserve(format.frames);
    std::vector<int> block(block_frames * count);
    while (out.size() < format.frames) {
        const auto wanted = std::min(block_frames, format.frames - out.size());
        const auto n = sf_readf_int(flac.get(), block.data(), static_cast<sf_count_t>(wanted));
        if (n <= 0) throw wave_file_error{file, "it is damaged or cut off"};
        for (std::size_t i = 0; i < static_cast<std::size_t>(n) * count; ++i)
            out.channels[i % count].push_back(as_volts(block[i], full_scales[i % count]));
    }
    return out;
}

}  // namespace cvrig
