#include "rig/stimulus/wave_stream.hpp"

#include <fmt/format.h>
#include <sndfile.h>

#include <cmath>
#include <system_error>

#include "rig/expectations/user_error.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

struct closer {
    void operator()(SNDFILE* f) const noexcept { sf_close(f); }
};
using open_wave = std::unique_ptr<SNDFILE, closer>;

[[noreturn]] void refuse(const fs::path& file, std::string_view what, std::string_view why) {
    throw user_error{fmt::format("cannot {} '{}': {}", what, file.string(), why)};
}

bool is_float(int format) {
    const int type = format & SF_FORMAT_SUBMASK;
    return type == SF_FORMAT_FLOAT || type == SF_FORMAT_DOUBLE;
}

bool is_wave(int format) {
    const int kind = format & SF_FORMAT_TYPEMASK;
    return kind == SF_FORMAT_WAV || kind == SF_FORMAT_WAVEX || kind == SF_FORMAT_RF64;
}

}  // namespace

struct wave_source::state {
    fs::path file;
    open_wave wave;
    SF_INFO info{};
    std::vector<float> interleaved;
    std::size_t at{0};
};

wave_source::wave_source(const fs::path& file) : state_{std::make_unique<state>()} {
    auto& s = *state_;
    s.file = file;
    std::error_code failed;
    if (!fs::is_regular_file(file, failed)) refuse(file, "read", "there is no such file");
    s.wave.reset(sf_open(file.c_str(), SFM_READ, &s.info));
    if (s.wave == nullptr || !is_wave(s.info.format))
        refuse(file, "read", "it is not a WAV file, or damaged");
    if (!is_float(s.info.format))
        refuse(file, "read",
               "its samples are not float, so they cannot be volts; write 32-bit "
               "float, 1.0 for 1 V");
    if (s.info.frames <= 0) refuse(file, "read", "it holds no samples");
}

wave_source::~wave_source() = default;

sample_rate wave_source::rate() const noexcept {
    return sample_rate{static_cast<double>(state_->info.samplerate)};
}
std::size_t wave_source::channels() const noexcept {
    return static_cast<std::size_t>(state_->info.channels);
}
std::size_t wave_source::frames() const noexcept {
    return static_cast<std::size_t>(state_->info.frames);
}

void wave_source::read(std::size_t first, std::vector<std::vector<float>>& to) {
    auto& s = *state_;
    const std::size_t frames = to.empty() ? 0 : to.front().size();
    if (first != s.at && sf_seek(s.wave.get(), static_cast<sf_count_t>(first), SEEK_SET) < 0)
        refuse(s.file, "read", "it is cut off");
    s.interleaved.resize(frames * channels());
    const auto n =
        sf_readf_float(s.wave.get(), s.interleaved.data(), static_cast<sf_count_t>(frames));
    if (n != static_cast<sf_count_t>(frames)) refuse(s.file, "read", "it is cut off");
    s.at = first + frames;
    for (std::size_t c = 0; c < to.size(); ++c)
        for (std::size_t i = 0; i < frames; ++i) to[c][i] = s.interleaved[i * channels() + c];
}

struct wave_sink::state {
    fs::path file;
    fs::path part;
    open_wave wave;
    std::vector<float> interleaved;
    bool finished{false};
};

wave_sink::wave_sink(fs::path file, sample_rate rate, std::size_t channels)
    : state_{std::make_unique<state>()} {
    auto& s = *state_;
    s.file = std::move(file);
    s.part = s.file;
    s.part += ".part";
    SF_INFO info{};
    info.samplerate = static_cast<int>(std::lround(rate.value()));
    info.channels = static_cast<int>(channels);
    info.format = SF_FORMAT_RF64 | SF_FORMAT_FLOAT;
    s.wave.reset(sf_open(s.part.c_str(), SFM_WRITE, &info));
    if (s.wave == nullptr) refuse(s.file, "write", sf_strerror(nullptr));
    // A file that fits becomes a plain WAV file at its end.
    sf_command(s.wave.get(), SFC_RF64_AUTO_DOWNGRADE, nullptr, SF_TRUE);
}

wave_sink::~wave_sink() {
    if (state_->finished) return;
    state_->wave.reset();
    std::error_code ignored;
    fs::remove(state_->part, ignored);
}

void wave_sink::write(const std::vector<std::vector<float>>& from, std::size_t first,
                      std::size_t end) {
    auto& s = *state_;
    s.interleaved.clear();
    for (std::size_t i = first; i < end; ++i)
        for (const auto& channel : from) s.interleaved.push_back(channel[i]);
    const auto frames = static_cast<sf_count_t>(end - first);
    if (sf_writef_float(s.wave.get(), s.interleaved.data(), frames) != frames)
        refuse(s.file, "write", "the disk is full, or the file too large for it");
}

void wave_sink::finish() {
    auto& s = *state_;
    s.wave.reset();
    std::error_code failed;
    fs::rename(s.part, s.file, failed);
    if (failed) refuse(s.file, "write", failed.message());
    s.finished = true;
}

}  // namespace cvrig
