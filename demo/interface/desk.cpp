#include "demo/interface/desk.hpp"

#include "demo/user_mistake.hpp"

#include <chrono>
#include <thread>

namespace ferrule {
namespace {

std::vector<channel_path> make_paths(double rate_hertz, std::uint64_t seed) {
    std::vector<channel_path> paths;
    paths.reserve(desk_channels);
    for (std::size_t i = 0; i < desk_channels; ++i) paths.emplace_back(rate_hertz, seed + i);
    return paths;
}

}  // namespace

jack_face desk_face(const std::string& server, const std::string& client) {
    jack_face face{server, client, {}, {}};
    for (const auto& [in, out] : {std::pair{"playback_", "capture_"}, std::pair{"in_", "out_"}}) {
        for (std::size_t i = 1; i <= desk_channels; ++i) {
            face.inputs.push_back(in + std::to_string(i));
            face.outputs.push_back(out + std::to_string(i));
        }
    }
    return face;
}

desk::desk(double full_scale_volts, double rate_hertz)
    : full_scale_volts_{full_scale_volts},
      out_paths_{make_paths(rate_hertz, 1)},
      in_paths_{make_paths(rate_hertz, 101)} {}

void desk::set(const desk_faults& faults) {
    using namespace std::chrono_literals;
    new_faults_.put(faults);
    for (int tries = 0; tries < 5000 && !new_faults_.is_free(); ++tries) {
        std::this_thread::sleep_for(1ms);
    }
    if (!new_faults_.is_free()) throw user_mistake("The JACK server does not run any more.");
}

void desk::apply_faults() noexcept {
    if (!new_faults_.peek(faults_)) return;
    for (std::size_t i = 0; i < desk_channels; ++i) {
        out_paths_[i].set(faults_.of(desk_side::out, i));
        in_paths_[i].set(faults_.of(desk_side::in, i));
    }
    new_faults_.done();
}

desk::frame desk::through(std::vector<channel_path>& paths, const frame& in) noexcept {
    frame out{};
    for (std::size_t i = 0; i < desk_channels; ++i) out[i] = paths[i].next(in, i);
    return out;
}

void desk::process(std::size_t frames, std::span<const float* const> in,
                   std::span<float* const> out) noexcept {
    apply_faults();
    for (std::size_t at = 0; at < frames; ++at) {
        frame played{};
        frame recorded{};
        for (std::size_t i = 0; i < desk_channels; ++i) {
            played[i] = static_cast<double>(in[i][at]) * full_scale_volts_;
            recorded[i] = static_cast<double>(in[desk_channels + i][at]);
        }
        // Both are read before anything is written: a cable from a socket to a socket of the same
        // client makes them one memory.
        played = through(out_paths_, played);
        recorded = through(in_paths_, recorded);
        for (std::size_t i = 0; i < desk_channels; ++i) {
            out[i][at] = static_cast<float>(recorded[i] / full_scale_volts_);
            out[desk_channels + i][at] = static_cast<float>(played[i]);
        }
    }
}

}  // namespace ferrule
