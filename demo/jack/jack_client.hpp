#pragma once

#include <jack/jack.h>

#include <atomic>
#include <cstddef>
#include <memory>
#include <span>
#include <string>
#include <vector>

namespace ferrule {

/// What runs in an audio callback. The buffers of an input and of an output may be the same memory
/// when a cable joins them: read every input before the first output is written.
class audio_worker {
public:
    audio_worker() = default;
    audio_worker(const audio_worker&) = delete;
    audio_worker& operator=(const audio_worker&) = delete;
    virtual ~audio_worker() = default;

    /// No lock, no allocation, no waiting.
    virtual void process(std::size_t frames, std::span<const float* const> in,
                         std::span<float* const> out) noexcept = 0;
};

/// Where a client appears and with which ports, in order.
struct jack_face {
    std::string server;  ///< empty: JACK_DEFAULT_SERVER, or "default"
    std::string client;
    std::vector<std::string> inputs;
    std::vector<std::string> outputs;
};

/// A client of a JACK server, from construction to destruction.
class jack_client {
public:
    /// Throws user_mistake when there is no such server or the name is taken.
    explicit jack_client(const jack_face& face);
    ~jack_client();
    jack_client(const jack_client&) = delete;
    jack_client& operator=(const jack_client&) = delete;

    /// From now on the ports are there and the worker is called; it must outlive the client or
    /// stop(). Once only.
    void start(audio_worker& worker);
    void stop() noexcept;

    [[nodiscard]] double rate_hertz() const noexcept;
    [[nodiscard]] std::size_t block_frames() const noexcept;
    /// The server has ended, or has thrown this client out.
    [[nodiscard]] bool is_alone() const noexcept { return alone_.load(); }
    /// Buffers longer than this are never asked for.
    static constexpr std::size_t most_frames = 8192;

    /// A cable between two ports by their full names. True when it is there afterwards, or, for
    /// unplug, when it is not.
    bool plug(const std::string& from, const std::string& to) noexcept;
    bool unplug(const std::string& from, const std::string& to) noexcept;

    /// As fast as the machine can, instead of by the clock.
    void freewheel(bool on) noexcept;

private:
    struct closer {
        void operator()(jack_client_t* client) const noexcept { jack_client_close(client); }
    };
    static int on_process(jack_nframes_t frames, void* self) noexcept;
    static void on_shutdown(jack_status_t code, const char* reason, void* self) noexcept;
    void register_ports(const std::vector<std::string>& names, unsigned long direction,
                        std::vector<jack_port_t*>& into);
    void work(jack_nframes_t frames) noexcept;

    jack_face face_;
    std::unique_ptr<jack_client_t, closer> client_;
    std::vector<jack_port_t*> inputs_;
    std::vector<jack_port_t*> outputs_;
    std::vector<const float*> in_;
    std::vector<float*> out_;
    std::atomic<audio_worker*> worker_{nullptr};
    std::atomic<bool> alone_{false};
    bool active_ = false;
};

/// Audio that runs from construction to destruction, so that its worker outlives it.
template <typename Audio>
class running {
public:
    running(Audio& audio, audio_worker& worker) : audio_{audio} { audio_.start(worker); }
    ~running() { audio_.stop(); }
    running(const running&) = delete;
    running& operator=(const running&) = delete;

private:
    Audio& audio_;
};

}  // namespace ferrule
