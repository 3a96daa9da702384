#include <fmt/format.h>
#include <sndfile.h>

#include <algorithm>
#include <array>
#include <cstdint>
#include <fstream>
#include <memory>
#include <span>
#include <string_view>
#include <utility>

#include "rig/stimulus/wave_file.hpp"

namespace cvrig {
namespace {

namespace fs = std::filesystem;

[[noreturn]] void refuse(const fs::path& file, std::string why) {
    throw wave_file_error{file, std::move(why)};
}

struct closer {
    void operator()(SNDFILE* f) const noexcept { sf_close(f); }
};
using open_wave = std::unique_ptr<SNDFILE, closer>;

std::uint64_t little_endian(const char* bytes) {
    std::uint64_t v = 0;
    for (int i = 3; i >= 0; --i) v = v << 8U | static_cast<unsigned char>(bytes[i]);
    return v;
}

/// Refuses a file that ends before its data chunk does. The library would silently read what is
/// there (RIFF WAVE: "Multimedia Programming Interface and Data Specifications 1.0", 1991).
void demand_complete_data(const fs::path& file) {
    const std::uint64_t length = fs::file_size(file);
    std::ifstream source{file, std::ios::binary};
    std::uint64_t at = 12;
    std::array<char, 8> head{};
    while (source.seekg(static_cast<std::streamoff>(at)) && source.read(head.data(), 8)) {
        const std::uint64_t size = little_endian(head.data() + 4);
        const std::uint64_t there = length - at - 8;
        if (std::string_view{head.data(), 4} != "data") {
            at += 8 + size + size % 2;
        } else if (size > there) {
            refuse(file, fmt::format("it is cut off: its header promises {} bytes of samples, but "
                                     "only {} are there",
                                     size, there));
        } else {
            return;
        }
    }
    refuse(file, "it is cut off before its samples begin");
}

void demand_wave_file(const fs::path& file) {
    std::error_code failed;
    const auto kind = fs::status(file, failed).type();
    if (kind == fs::file_type::not_found) refuse(file, "there is no such file");
    // A pipe would make us wait for ever.
    if (kind != fs::file_type::regular) refuse(file, "it is not a regular file");
    std::ifstream source{file, std::ios::binary};
    if (!source) refuse(file, "you have no permission to read it");
    std::array<char, 12> head{};
    source.read(head.data(), head.size());
    const std::string_view text{head.data(), static_cast<std::size_t>(source.gcount())};
    if (text.empty()) refuse(file, "it is empty");
    if (text.size() < head.size() || text.substr(0, 4) != "RIFF" || text.substr(8) != "WAVE")
        refuse(file, "it is not a WAV file");
}

std::string type_in_words(int format) {
    SF_FORMAT_INFO info{format & SF_FORMAT_SUBMASK, nullptr, nullptr};
    sf_command(nullptr, SFC_GET_FORMAT_INFO, &info, sizeof info);
    return info.name == nullptr ? "an unknown form" : info.name;
}

struct opened {
    open_wave wave;
    wave_format format;
};

opened open(const fs::path& file) {
    demand_wave_file(file);
    SF_INFO info{};
    open_wave wave{sf_open(file.c_str(), SFM_READ, &info)};
    if (wave == nullptr) {
        demand_complete_data(file);
        refuse(file, fmt::format("it is a damaged WAV file ({})", sf_strerror(nullptr)));
    }
    const int type = info.format & SF_FORMAT_SUBMASK;
    const bool is_float = type == SF_FORMAT_FLOAT || type == SF_FORMAT_DOUBLE;
    const bool is_pcm = type == SF_FORMAT_PCM_U8 || type == SF_FORMAT_PCM_16 ||
                        type == SF_FORMAT_PCM_24 || type == SF_FORMAT_PCM_32;
    if (!is_float && !is_pcm)
        refuse(file, fmt::format("its samples are {}; write 32-bit float", type_in_words(type)));
    demand_complete_data(file);
    if (info.frames <= 0) refuse(file, "it holds no samples");
    return {
        std::move(wave),
        {sample_rate{static_cast<double>(info.samplerate)}, static_cast<std::size_t>(info.channels),
         static_cast<std::size_t>(info.frames), is_float, type_in_words(type)}};
}

void spread(std::span<const float> interleaved, std::vector<std::vector<float>>& channels) {
    const std::size_t count = channels.size();
    for (std::size_t i = 0; i < interleaved.size(); ++i)
        channels[i % count].push_back(interleaved[i]);
}

}  // namespace

wave_file_error::wave_file_error(const fs::path& file, std::string reason)
    : user_error{fmt::format("cannot read '{}': {}", file.string(), reason)},
      reason_{std::move(reason)} {}

wave_format read_wave_format(const fs::path& file) {
    return open(file).format;
}

recording read_wave_file(const fs::path& file, std::size_t channels) {
    const auto [wave, format] = open(file);
    if (format.channels != channels)
        refuse(file, fmt::format("it has {} channels instead of {}", format.channels, channels));
    recording result{format.rate, std::vector<std::vector<float>>(channels)};
    for (auto& channel : result.channels) channel.reserve(format.frames);

    constexpr std::size_t block_frames = 4096;
    std::vector<float> block(block_frames * channels);
    for (std::size_t left = format.frames; left > 0;) {
        const auto wanted = static_cast<sf_count_t>(std::min(left, block_frames));
        const sf_count_t n = sf_readf_float(wave.get(), block.data(), wanted);
        if (n <= 0) refuse(file, fmt::format("it is cut off: {} samples are missing", left));
        spread(std::span{block}.first(static_cast<std::size_t>(n) * channels), result.channels);
        left -= static_cast<std::size_t>(n);
    }
    return result;
}

}  // namespace cvrig
