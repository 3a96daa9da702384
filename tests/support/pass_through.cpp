// A JACK client that stands for an audio interface whose outputs lead straight to its inputs.
//
//   pass_through NAME CHANNELS RECORD
//
// Ports playback_N are copied to capture_N. It says "ready" when it runs. At SIGTERM, or when the
// server goes, it writes what it heard on playback_1 and playback_2 to RECORD, interleaved 32-bit
// floats, and ends.
#include <jack/jack.h>
#include <unistd.h>

#include <atomic>
#include <csignal>
#include <cstdlib>
#include <cstring>
#include <fstream>
#include <iostream>
#include <string>
#include <vector>

namespace {

constexpr std::size_t most_frames = std::size_t{48000} * 40;

struct desk {
    std::vector<jack_port_t*> in, out;
    std::vector<float> heard = std::vector<float>(2 * most_frames);
    std::atomic<std::size_t> frames{0};
    std::atomic<bool> over{false};
};

int on_block(jack_nframes_t n, void* self) {
    auto& d = *static_cast<desk*>(self);
    std::size_t at = d.frames.load();
    for (std::size_t c = 0; c < d.in.size(); ++c) {
        const auto* from = static_cast<const float*>(jack_port_get_buffer(d.in[c], n));
        std::memcpy(jack_port_get_buffer(d.out[c], n), from, n * sizeof(float));
        for (std::size_t i = 0; c < 2 && i < n && at + i < most_frames; ++i)
            d.heard[2 * (at + i) + c] = from[i];
    }
    d.frames = std::min(most_frames, at + n);
    return 0;
}

volatile std::sig_atomic_t told_to_end = 0;

}  // namespace

int main(int argc, char** argv) {
    if (argc != 4) return 2;
    desk d;
    auto* client = jack_client_open(argv[1], JackNoStartServer, nullptr);
    if (client == nullptr) return 1;
    const int channels = std::atoi(argv[2]);
    const auto add = [&](const char* kind, int c, unsigned long flags) {
        const auto name = std::string{kind} + std::to_string(c + 1);
        return jack_port_register(client, name.c_str(), JACK_DEFAULT_AUDIO_TYPE, flags, 0);
    };
    for (int c = 0; c < channels; ++c) d.in.push_back(add("playback_", c, JackPortIsInput));
    for (int c = 0; c < channels; ++c) d.out.push_back(add("capture_", c, JackPortIsOutput));
    jack_set_process_callback(client, &on_block, &d);
    jack_on_shutdown(
        client, [](void* self) { static_cast<desk*>(self)->over = true; }, &d);
    std::signal(SIGTERM, [](int) { told_to_end = 1; });
    if (jack_activate(client) != 0) return 1;
    std::cout << "ready" << std::endl;
    while (told_to_end == 0 && !d.over) usleep(5000);
    std::ofstream file{argv[3], std::ios::binary};
    file.write(reinterpret_cast<const char*>(d.heard.data()),
               static_cast<std::streamsize>(2 * d.frames * sizeof(float)));
    file.close();
    if (!d.over) jack_client_close(client);
    std::_Exit(0);  // closing a client of a dead server may hang
}
