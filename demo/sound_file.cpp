#include "demo/sound_file.hpp"

#include "demo/user_mistake.hpp"

#include <algorithm>
#include <cmath>
#include <sndfile.hh>

namespace ferrule {

sound read_sound(const std::filesystem::path& path) {
    SndfileHandle file{path.string()};
    if (file.error() != SF_ERR_NO_ERROR || file.channels() < 1) {
        throw user_mistake("The stimulus " + path.string() + " cannot be read: " + file.strError());
    }
    sound read{file.samplerate(), file.channels(), {}};
    const auto frames = file.frames();
    read.samples.resize(static_cast<std::size_t>(frames) * static_cast<std::size_t>(read.channels));
    if (file.readf(read.samples.data(), frames) != frames) {
        throw user_mistake("The stimulus " + path.string() + " is shorter than its header says.");
    }
    if (!std::all_of(read.samples.begin(), read.samples.end(),
                     [](float x) { return std::isfinite(x); })) {
        throw user_mistake("The stimulus " + path.string() +
                           " holds samples that are not numbers; make it again.");
    }
    return read;
}

void write_sound(const std::filesystem::path& path, const sound& what) {
    const std::filesystem::path half = path.string() + ".part";
    {
        SndfileHandle file{half.string(), SFM_WRITE, SF_FORMAT_WAV | SF_FORMAT_FLOAT, what.channels,
                           what.rate_hertz};
        const auto frames = static_cast<sf_count_t>(what.frames());
        if (file.error() != SF_ERR_NO_ERROR || file.writef(what.samples.data(), frames) != frames) {
            throw user_mistake("The response " + path.string() +
                               " cannot be written: " + file.strError());
        }
    }
    std::filesystem::rename(half, path);
}

}  // namespace ferrule
