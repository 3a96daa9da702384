#include "jack_player.hpp"

#include <algorithm>
#include <chrono>
#include <stdexcept>
#include <thread>

namespace live {
namespace {

std::vector<std::string> numbered(const std::string& name, std::size_t count) {
    std::vector<std::string> names;
    for (std::size_t i = 1; i <= count; ++i) names.push_back(name + "_" + std::to_string(i));
    return names;
}

}  // namespace

jack_player::jack_player(const std::string& server, const std::vector<std::string>& play_to,
                         const std::vector<std::string>& record_from)
    : recorded_(record_from.size()),
      held_(play_to.size()),
      jack_{{server, "player", numbered("from", record_from.size()),
             numbered("to", play_to.size())}} {
    jack_.start(*this);
    bool plugged = true;
    for (std::size_t i = 0; i < play_to.size(); ++i) {
        plugged = jack_.plug("player:to_" + std::to_string(i + 1), play_to[i]) && plugged;
    }
    for (std::size_t i = 0; i < record_from.size(); ++i) {
        plugged = jack_.plug(record_from[i], "player:from_" + std::to_string(i + 1)) && plugged;
    }
    if (!plugged) throw std::runtime_error("the player finds no such port");
}

jack_player::~jack_player() {
    jack_.stop();
}

std::vector<std::vector<float>> jack_player::exchange(const std::vector<std::vector<float>>& out) {
    to_play_ = out;
    frames_ = out.empty() ? 0 : out.front().size();
    recorded_.assign(recorded_.size(), {});
    for (auto& channel : recorded_) channel.assign(frames_, 0.0F);
    at_ = 0;
    busy_ = true;
    using std::chrono_literals::operator""ms;
    constexpr int most_waits = 60000;
    for (int waits = 0; busy_; ++waits) {
        if (jack_.is_alone() || waits > most_waits) throw std::runtime_error("the audio stopped");
        std::this_thread::sleep_for(1ms);
    }
    return recorded_;
}

void jack_player::hold(const std::vector<float>& values) {
    for (std::size_t i = 0; i < held_.size(); ++i) held_[i] = values[i];
    using std::chrono_literals::operator""ms;
    const auto enough = blocks_ + 8;
    while (blocks_ < enough && !jack_.is_alone()) std::this_thread::sleep_for(1ms);
}

void jack_player::process(std::size_t frames, std::span<const float* const> in,
                          std::span<float* const> out) noexcept {
    const bool plays = busy_;
    const std::size_t count = plays ? std::min(frames, frames_ - at_) : 0;
    for (std::size_t i = 0; i < in.size() && plays; ++i) {
        std::copy_n(in[i], count, recorded_[i].begin() + static_cast<std::ptrdiff_t>(at_));
    }
    for (std::size_t i = 0; i < out.size(); ++i) {
        std::fill_n(out[i], frames, held_[i].load());
        if (!plays) continue;
        std::copy_n(to_play_[i].begin() + static_cast<std::ptrdiff_t>(at_), count, out[i]);
    }
    ++blocks_;
    if (!plays) return;
    at_ += count;
    if (at_ == frames_) busy_ = false;
}

}  // namespace live
