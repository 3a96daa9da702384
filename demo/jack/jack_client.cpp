#include "demo/jack/jack_client.hpp"

#include "demo/user_mistake.hpp"

#include <cerrno>

namespace ferrule {
namespace {

/// JACK would write its own lines between ours.
void say_nothing(const char* /*text*/) noexcept {}

jack_client_t* open_client(const jack_face& face) {
    jack_set_error_function(say_nothing);
    jack_set_info_function(say_nothing);
    constexpr auto options = static_cast<jack_options_t>(JackNoStartServer | JackUseExactName);
    constexpr auto named = static_cast<jack_options_t>(options | JackServerName);
    jack_status_t status{};
    jack_client_t* client =
        face.server.empty()
            ? jack_client_open(face.client.c_str(), options, &status)
            : jack_client_open(face.client.c_str(), named, &status, face.server.c_str());
    if (client != nullptr) return client;
    const std::string server = face.server.empty() ? "" : " \"" + face.server + "\"";
    if ((status & JackNameNotUnique) != 0) {
        throw user_mistake("The JACK server" + server + " already has a client \"" + face.client +
                           "\"; choose another with client=NAME.");
    }
    throw user_mistake("No JACK server" + server +
                       " answers; start jackd first, with the same user.");
}

}  // namespace

jack_client::jack_client(const jack_face& face) : face_{face}, client_{open_client(face)} {
    jack_set_process_callback(client_.get(), on_process, this);
    jack_on_info_shutdown(client_.get(), on_shutdown, this);
}

jack_client::~jack_client() {
    stop();
}

void jack_client::register_ports(const std::vector<std::string>& names, unsigned long direction,
                                 std::vector<jack_port_t*>& into) {
    for (const auto& name : names) {
        into.push_back(
            jack_port_register(client_.get(), name.c_str(), JACK_DEFAULT_AUDIO_TYPE, direction, 0));
        if (into.back() == nullptr) {
            throw user_mistake("The JACK server refuses the port \"" + name +
                               "\"; it has too many already.");
        }
    }
}

void jack_client::start(audio_worker& worker) {
    if (jack_activate(client_.get()) != 0) {
        throw user_mistake("The JACK server does not start the client; restart jackd.");
    }
    active_ = true;
    // Only now, because a port that is there before its client is active takes no cable.
    register_ports(face_.inputs, JackPortIsInput, inputs_);
    register_ports(face_.outputs, JackPortIsOutput, outputs_);
    in_.resize(inputs_.size());
    out_.resize(outputs_.size());
    worker_ = &worker;
}

void jack_client::stop() noexcept {
    if (active_) jack_deactivate(client_.get());
    active_ = false;
}

double jack_client::rate_hertz() const noexcept {
    return static_cast<double>(jack_get_sample_rate(client_.get()));
}

std::size_t jack_client::block_frames() const noexcept {
    return jack_get_buffer_size(client_.get());
}

bool jack_client::plug(const std::string& from, const std::string& to) noexcept {
    const jack_port_t* one = jack_port_by_name(client_.get(), from.c_str());
    if (one == nullptr || jack_port_by_name(client_.get(), to.c_str()) == nullptr) return false;
    if (jack_port_connected_to(one, to.c_str()) != 0) return true;
    const int result = jack_connect(client_.get(), from.c_str(), to.c_str());
    return result == 0 || result == EEXIST;
}

bool jack_client::unplug(const std::string& from, const std::string& to) noexcept {
    const jack_port_t* port = jack_port_by_name(client_.get(), from.c_str());
    if (port == nullptr || jack_port_connected_to(port, to.c_str()) == 0) return true;
    return jack_disconnect(client_.get(), from.c_str(), to.c_str()) == 0;
}

void jack_client::freewheel(bool on) noexcept {
    jack_set_freewheel(client_.get(), on ? 1 : 0);
}

int jack_client::on_process(jack_nframes_t frames, void* self) noexcept {
    static_cast<jack_client*>(self)->work(frames);
    return 0;
}

void jack_client::on_shutdown(jack_status_t /*code*/, const char* /*reason*/, void* self) noexcept {
    static_cast<jack_client*>(self)->alone_ = true;
}

void jack_client::work(jack_nframes_t frames) noexcept {
    audio_worker* const worker = worker_.load();
    if (worker == nullptr) return;
    for (std::size_t i = 0; i < inputs_.size(); ++i) {
        in_[i] = static_cast<const float*>(jack_port_get_buffer(inputs_[i], frames));
    }
    for (std::size_t i = 0; i < outputs_.size(); ++i) {
        out_[i] = static_cast<float*>(jack_port_get_buffer(outputs_[i], frames));
    }
    worker->process(frames, in_, out_);
}

}  // namespace ferrule
