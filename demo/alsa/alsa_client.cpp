#include "demo/alsa/alsa_client.hpp"

#include "demo/user_mistake.hpp"

namespace ferrule {
namespace {

void say_nothing(RtAudioError::Type /*kind*/, const std::string& /*text*/) {}

}  // namespace

alsa_client::alsa_client(alsa_face face)
    : face_{std::move(face)},
      in_(face_.channels.inputs),
      out_(face_.channels.outputs),
      audio_{RtAudio::LINUX_ALSA} {
    if (audio_.getCurrentApi() != RtAudio::LINUX_ALSA) {
        throw user_mistake("This machine's RtAudio knows no ALSA; use JACK: leave out alsa=.");
    }
    audio_.showWarnings(false);
    open(device_index());
}

unsigned alsa_client::device_index() {
    std::string known;
    for (unsigned i = 0; i < audio_.getDeviceCount(); ++i) {
        const auto name = audio_.getDeviceInfo(i).name;
        if (name == face_.device) return i;
        if (!name.empty()) known += (known.empty() ? "" : ", ") + name;
    }
    throw user_mistake("There is no audio device \"" + face_.device + "\"; " +
                       (known.empty() ? "this machine has none." : "there are " + known + "."));
}

void alsa_client::open(unsigned index) {
    RtAudio::StreamParameters out;
    out.deviceId = index;
    out.nChannels = static_cast<unsigned>(face_.channels.outputs);
    RtAudio::StreamParameters in;
    in.deviceId = index;
    in.nChannels = static_cast<unsigned>(face_.channels.inputs);
    RtAudio::StreamOptions options;
    options.flags = RTAUDIO_NONINTERLEAVED;
    options.numberOfBuffers = face_.blocks;
    try {
        audio_.openStream(&out, &in, RTAUDIO_FLOAT32, face_.rate_hertz, &face_.block_frames,
                          on_block, this, &options, say_nothing);
    } catch (const RtAudioError& error) {
        throw user_mistake("The audio device \"" + face_.device + "\" does not open with " +
                           std::to_string(face_.channels.inputs) + " inputs and " +
                           std::to_string(face_.channels.outputs) +
                           " outputs at that rate: " + error.what());
    }
}

void alsa_client::start(audio_worker& worker) {
    adapter_.emplace(face_.channels, worker, face_.block_frames);
    try {
        audio_.startStream();
    } catch (const RtAudioError& error) {
        throw user_mistake("The audio device \"" + face_.device +
                           "\" does not start: " + error.what());
    }
}

void alsa_client::stop() noexcept {
    try {
        if (audio_.isStreamRunning()) audio_.abortStream();
        if (audio_.isStreamOpen()) audio_.closeStream();
    } catch (const RtAudioError&) {
        // The device has gone before: nothing is left to stop.
    }
}

int alsa_client::on_block(void* out, void* in, unsigned frames, double /*seconds*/,
                          RtAudioStreamStatus /*status*/, void* self) noexcept {
    static_cast<alsa_client*>(self)->work(static_cast<const float*>(in), static_cast<float*>(out),
                                          frames);
    return 0;
}

/// The channels lie one after the other.
void alsa_client::work(const float* in, float* out, std::size_t frames) noexcept {
    for (std::size_t i = 0; i < in_.size(); ++i) in_[i] = in + i * frames;
    for (std::size_t i = 0; i < out_.size(); ++i) out_[i] = out + i * frames;
    adapter_->process(frames, in_, out_);
}

}  // namespace ferrule
