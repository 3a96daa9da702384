#include <fmt/format.h>
#include <sndfile.h>

#include <algorithm>
#include <cmath>
#include <cstring>
#include <memory>
#include <span>
#include <stdexcept>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace cvrig {
namespace {

/// A file in memory for the library to write to. It is stored afterwards in one go, so that a full
/// disk gives our own sentence.
struct memory_file {
    std::vector<std::byte> bytes;
    sf_count_t at{0};

    static memory_file& of(void* self) { return *static_cast<memory_file*>(self); }
    static sf_count_t length(void* self) { return static_cast<sf_count_t>(of(self).bytes.size()); }
    static sf_count_t tell(void* self) { return of(self).at; }
    static sf_count_t seek(sf_count_t offset, int whence, void* self) {
        const sf_count_t from = whence == SEEK_CUR   ? tell(self)
                                : whence == SEEK_END ? length(self)
                                                     : 0;
        return of(self).at = std::max<sf_count_t>(0, from + offset);
    }
    static sf_count_t read(void* to, sf_count_t count, void* self) {
        auto& m = of(self);
        const sf_count_t n = std::clamp<sf_count_t>(length(self) - m.at, 0, count);
        if (n > 0) std::memcpy(to, m.bytes.data() + m.at, static_cast<std::size_t>(n));
        m.at += n;
        return n;
    }
    static sf_count_t write(const void* from, sf_count_t count, void* self) {
        auto& m = of(self);
        const auto end = static_cast<std::size_t>(m.at + count);
        if (m.bytes.size() < end) m.bytes.resize(end);
        std::memcpy(m.bytes.data() + m.at, from, static_cast<std::size_t>(count));
        m.at += count;
        return count;
    }
};

struct closer {
    void operator()(SNDFILE* f) const noexcept { sf_close(f); }
};

void demand_writable(const std::filesystem::path& file, const recording& r) {
    const std::size_t frames = r.size();
    const bool one_length =
        std::all_of(r.channels.begin(), r.channels.end(),
                    [&](const auto& channel) { return channel.size() == frames; });
    if (r.channels.empty() || !one_length)
        throw std::invalid_argument{"a recording needs channels of one length"};
    constexpr double most_bytes = 4.0e9;  // RIFF counts in 32 bits
    const double bytes = 4.0 * static_cast<double>(frames) * static_cast<double>(r.channels.size());
    if (bytes > most_bytes)
        throw user_error{
            fmt::format("cannot write '{}': {:.1f} GB of samples are more than a WAV "
                        "file can hold; play less in one take",
                        file.string(), bytes / 1e9)};
}

void write_frames(SNDFILE* wave, const recording& r) {
    constexpr std::size_t block_frames = 4096;
    const std::size_t count = r.channels.size();
    std::vector<float> block;
    block.reserve(block_frames * count);
    for (std::size_t first = 0; first < r.size(); first += block_frames) {
        const std::size_t last = std::min(first + block_frames, r.size());
        block.clear();
        for (std::size_t i = first; i < last; ++i)
            for (const auto& channel : r.channels) block.push_back(channel[i]);
        const auto wanted = static_cast<sf_count_t>(last - first);
        if (sf_writef_float(wave, block.data(), wanted) != wanted)
            throw std::runtime_error{fmt::format("cannot make a WAV file: {}", sf_strerror(wave))};
    }
}

}  // namespace

void write_wave_file(const std::filesystem::path& file, const recording& r) {
    demand_writable(file, r);
    memory_file memory;
    memory.bytes.reserve(4 * r.size() * r.channels.size() + 1024);
    SF_VIRTUAL_IO access{&memory_file::length, &memory_file::seek, &memory_file::read,
                         &memory_file::write, &memory_file::tell};
    SF_INFO info{};
    info.samplerate = static_cast<int>(std::lround(r.rate.value()));
    info.channels = static_cast<int>(r.channels.size());
    info.format = SF_FORMAT_WAV | SF_FORMAT_FLOAT;
    std::unique_ptr<SNDFILE, closer> wave{sf_open_virtual(&access, SFM_WRITE, &info, &memory)};
    if (wave == nullptr)
        throw std::runtime_error{fmt::format("cannot make a WAV file: {}", sf_strerror(nullptr))};
    // The peak chunk holds the time of day.
    sf_command(wave.get(), SFC_SET_ADD_PEAK_CHUNK, nullptr, SF_FALSE);
    write_frames(wave.get(), r);
    wave.reset();
    write_file_atomically(file, memory.bytes, durability::unsynced);
}

}  // namespace cvrig
