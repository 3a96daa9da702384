#include "rig/link/rt_stream.hpp"

#include <RtAudio.h>
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <chrono>
#include <functional>
#include <future>
#include <optional>
#include <thread>
#include <vector>

#include "rig/expectations/wording.hpp"
#include "rig/link/library_messages.hpp"

namespace cvrig {

namespace {

using namespace std::chrono_literals;

constexpr auto longest_block = 200ms;  ///< 4096 frames at 44.1 kHz, twice
constexpr auto time_between_looks = 200ms;
constexpr seconds patience_for_list{5.0};

[[noreturn]] void refuse(const audio_link_settings& settings, std::string sentence) {
    throw user_error{std::vector{complaint{settings.where, std::move(sentence)}}};
}

/// RtAudio's words without the name of its function.
std::string reason_of(const RtAudioError& e) {
    std::string_view text = e.what();
    if (const auto colon = text.find(": "); text.starts_with("RtApi") && colon != text.npos)
        text.remove_prefix(colon + 2);
    while (!text.empty() && (text.back() == '.' || text.back() == '!')) text.remove_suffix(1);
    return std::string{text};
}

void drop_message(RtAudioError::Type, const std::string&) {}

audio_device described(RtAudio& audio, RtAudio::Api api, unsigned index) {
    audio_device out;
    out.api = RtAudio::getApiName(api);
    const auto info = audio.getDeviceInfo(index);
    out.name = info.name;
    out.outputs = info.outputChannels;
    out.inputs = info.inputChannels;
    for (const unsigned hz : info.sampleRates) out.rates_hz.push_back(hz);
    if (!info.probed) out.problem = "cannot be asked for its channels and rates; it may be busy";
    return out;
}

struct listed_device {
    audio_device device;
    RtAudio::Api api;
    unsigned index;
};

std::vector<listed_device> list_devices(RtAudio::Api api) {
    std::vector<listed_device> out;
    try {
        RtAudio audio{api};
        audio.showWarnings(false);
        const unsigned count = audio.getDeviceCount();
        for (unsigned i = 0; i < count; ++i) {
            try {
                out.push_back({described(audio, api, i), api, i});
            } catch (const RtAudioError&) {
                // It went away while we asked.
            }
        }
    } catch (const RtAudioError&) {
        // This way is not there on this computer, so it has no devices.
    }
    return out;
}

/// Of one way, or of all if the name is empty.
std::vector<listed_device> list_devices(const std::string& only) {
    std::vector<RtAudio::Api> apis;
    RtAudio::getCompiledApi(apis);
    std::vector<listed_device> out;
    for (const auto api : apis) {
        if (api == RtAudio::RTAUDIO_DUMMY) continue;
        if (!only.empty() && RtAudio::getApiName(api) != only) continue;
        for (auto& d : list_devices(api))
            if (!d.device.name.empty()) out.push_back(std::move(d));
    }
    return out;
}

std::vector<audio_device> devices_of(const std::vector<listed_device>& all) {
    std::vector<audio_device> out;
    out.reserve(all.size());
    for (const auto& d : all) out.push_back(d.device);
    return out;
}

/// RtAudio finds the ports of a JACK device by its name as a part of theirs, so a second device
/// whose name contains this one's would get some of its cables.
void refuse_confusion(const audio_link_settings& settings, const audio_device& chosen,
                      const std::vector<listed_device>& all) {
    for (const auto& other : all)
        if (chosen.api == "jack" && other.device.api == "jack" &&
            other.device.name != chosen.name &&
            other.device.name.find(chosen.name) != std::string::npos)
            refuse(settings,
                   fmt::format("The JACK clients {} and {} cannot be told apart, since one "
                               "name is a part of the other; rename one of them.",
                               cvrig::quoted(chosen.name), cvrig::quoted(other.device.name)));
}

class rtaudio_stream : public rt_stream {
public:
    rtaudio_stream(const listed_device& chosen, const audio_link_settings& settings,
                   const stream_layout& layout)
        : exchange_{layout}, device_{chosen.device}, audio_{chosen.api} {
        audio_.showWarnings(false);
        open(chosen, settings, layout);
    }
    ~rtaudio_stream() override = default;

    sample_exchange& exchange() noexcept override { return exchange_; }
    const audio_device& device() const noexcept override { return device_; }
    std::size_t block_frames() const noexcept override { return block_frames_; }
    void keep(std::shared_ptr<exchange_job> job) override { job_ = std::move(job); }

    void close() noexcept override {
        exchange_.stop();
        try {
            while (is_stuck() && audio_.isStreamOpen()) {
                // RtAudio takes a stream of a dead JACK server down by itself, on a thread of its
                // own, and two at once would race. This thread may wait for ever.
                if (device_.api != "jack") break;
                std::this_thread::sleep_for(time_between_looks);
            }
            if (audio_.isStreamRunning()) audio_.abortStream();
            if (audio_.isStreamOpen()) audio_.closeStream();
        } catch (const RtAudioError&) {
            // There is nothing left to take down.
        }
        // The last lines of RtAudio's own thread come after it says that the stream is closed.
        if (stuck_) std::this_thread::sleep_for(time_between_looks);
    }

private:
    static int on_block(void* out, void* in, unsigned frames, double, RtAudioStreamStatus status,
                        void* self) {
        auto& stream = *static_cast<rtaudio_stream*>(self);
        stream.exchange_.process(
            static_cast<const float*>(in), static_cast<float*>(out), frames,
            {(status & RTAUDIO_OUTPUT_UNDERFLOW) != 0, (status & RTAUDIO_INPUT_OVERFLOW) != 0},
            std::chrono::steady_clock::now());
        return 0;
    }

    void open(const listed_device& chosen, const audio_link_settings& settings,
              const stream_layout& layout) {
        RtAudio::StreamParameters out;
        out.deviceId = chosen.index;
        out.nChannels = static_cast<unsigned>(layout.device_outputs);
        RtAudio::StreamParameters in;
        in.deviceId = chosen.index;
        in.nChannels = static_cast<unsigned>(layout.device_inputs);
        RtAudio::StreamOptions options;
        options.flags = RTAUDIO_NONINTERLEAVED | RTAUDIO_SCHEDULE_REALTIME;
        options.numberOfBuffers = static_cast<unsigned>(settings.blocks);
        options.streamName = "cvrig";
        auto frames = static_cast<unsigned>(settings.block_frames);
        audio_.openStream(&out, &in, RTAUDIO_FLOAT32, static_cast<unsigned>(layout.rate.value()),
                          &frames, &on_block, this, &options, &drop_message);
        block_frames_ = frames;
        audio_.startStream();
    }

    /// Whether no callback comes for much longer than a block.
    bool is_stuck() {
        const auto before = exchange_.callbacks();
        const auto until = std::chrono::steady_clock::now() + longest_block;
        stuck_ = true;
        while (stuck_ && std::chrono::steady_clock::now() < until) {
            stuck_ = exchange_.callbacks() == before;
            if (stuck_) std::this_thread::sleep_for(1ms);
        }
        return stuck_;
    }

    std::shared_ptr<quiet_libraries> quiet_{quiet_libraries::keep()};
    sample_exchange exchange_;
    std::shared_ptr<exchange_job> job_;
    audio_device device_;
    std::size_t block_frames_{0};
    bool stuck_{false};
    RtAudio audio_;
};

void require_fit(const audio_link_settings& settings, const stream_layout& layout,
                 const audio_device& device) {
    const auto wrong =
        shortcomings(device, layout.device_outputs, layout.device_inputs, layout.rate);
    if (!wrong.empty())
        refuse(settings, fmt::format("The audio device {} cannot be used: it {}.",
                                     cvrig::quoted(device.name), fmt::join(wrong, "; it ")));
}

std::shared_ptr<rt_stream> open_now(const audio_link_settings& settings,
                                    const stream_layout& layout) {
    const auto all = list_devices(settings.api);
    const auto device = find_device(devices_of(all), settings);
    require_fit(settings, layout, device);
    refuse_confusion(settings, device, all);
    const auto chosen = std::find_if(all.begin(), all.end(), [&](const listed_device& d) {
        return d.device.api == device.api && d.device.name == device.name;
    });
    try {
        return std::make_shared<rtaudio_stream>(*chosen, settings, layout);
    } catch (const RtAudioError& e) {
        refuse(settings, fmt::format("The audio device {} cannot be opened ({}); it may be in use "
                                     "by another program.",
                                     cvrig::quoted(device.name), reason_of(e)));
    }
}

/// What `work` gives, if it comes in time. Otherwise the work goes on, and what comes of it is
/// dropped.
template <class T>
std::optional<T> within(seconds patience, std::function<T()> work) {
    auto promise = std::make_shared<std::promise<T>>();
    auto result = promise->get_future();
    std::thread{[promise, work = std::move(work)] {
        try {
            promise->set_value(work());
        } catch (...) {
            promise->set_exception(std::current_exception());
        }
    }}.detach();
    const auto time = std::chrono::duration<double>(patience.value());
    if (result.wait_for(time) != std::future_status::ready) return std::nullopt;
    return result.get();
}

}  // namespace

std::vector<audio_device> audio_devices() {
    const auto found = within<std::vector<audio_device>>(
        patience_for_list,
        [quiet = quiet_libraries::keep()] { return devices_of(list_devices(std::string{})); });
    return found.value_or(std::vector<audio_device>{});
}

std::shared_ptr<rt_stream> open_stream(const audio_link_settings& settings,
                                       const stream_layout& layout, seconds patience) {
    auto opened = within<std::shared_ptr<rt_stream>>(
        patience,
        [settings, layout, quiet = quiet_libraries::keep()] { return open_now(settings, layout); });
    if (!opened)
        refuse(settings,
               fmt::format("The audio device {} did not answer within {:g} s; restart its "
                           "server or connect it anew.",
                           cvrig::quoted(settings.device), patience.value()));
    const auto until =
        std::chrono::steady_clock::now() + std::chrono::duration<double>(patience.value());
    while ((*opened)->exchange().callbacks() == 0 && std::chrono::steady_clock::now() < until)
        std::this_thread::sleep_for(1ms);
    if ((*opened)->exchange().callbacks() > 0) return *opened;
    close_stream(*opened, seconds{0.0});
    refuse(settings,
           fmt::format("The audio device {} was opened, but never ran; restart its server "
                       "or connect it anew.",
                       cvrig::quoted(settings.device)));
}

void close_stream(std::shared_ptr<rt_stream> stream, seconds patience) {
    (void)within<bool>(patience, [stream = std::move(stream)] {
        stream->close();
        return true;
    });
}

}  // namespace cvrig
