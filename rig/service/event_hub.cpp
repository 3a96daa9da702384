#include "rig/service/event_hub.hpp"

#include <algorithm>
#include <array>
#include <string_view>

namespace cvrig::service {

namespace {

constexpr std::size_t most_readers = 24;
constexpr std::size_t most_waiting = 100;
constexpr std::array<std::string_view, 3> whole_states{"bench", "levels", "queue"};

std::string as_sent(const std::string& kind, const std::string& data) {
    return "event: " + kind + "\ndata: " + data + "\n\n";
}

}  // namespace

std::optional<std::string> event_stream::next(std::chrono::milliseconds wait) {
    std::unique_lock lock{mutex_};
    changed_.wait_for(lock, wait,
                      [this] { return closed_ || !latest_.empty() || !others_.empty(); });
    if (!others_.empty()) {
        auto out = std::move(others_.front());
        others_.pop_front();
        return out;
    }
    if (latest_.empty()) return std::nullopt;
    const auto first = latest_.begin();
    auto out = as_sent(first->first, first->second);
    latest_.erase(first);
    return out;
}

bool event_stream::is_closed() const {
    const std::lock_guard lock{mutex_};
    return closed_;
}

void event_stream::tell(const std::string& kind, const std::string& data) {
    {
        const std::lock_guard lock{mutex_};
        if (std::ranges::find(whole_states, kind) != whole_states.end()) {
            latest_[kind] = data;
        } else {
            if (others_.size() == most_waiting) others_.pop_front();
            others_.push_back(as_sent(kind, data));
        }
    }
    changed_.notify_all();
}

void event_stream::close() {
    {
        const std::lock_guard lock{mutex_};
        closed_ = true;
    }
    changed_.notify_all();
}

std::shared_ptr<event_stream> event_hub::listen() {
    const std::lock_guard lock{mutex_};
    std::erase_if(readers_, [](const auto& r) { return r.expired(); });
    if (closed_ || readers_.size() >= most_readers) return nullptr;
    auto out = std::make_shared<event_stream>();
    readers_.push_back(out);
    return out;
}

void event_hub::tell(const std::string& kind, const std::string& data) {
    const std::lock_guard lock{mutex_};
    for (const auto& reader : readers_)
        if (const auto alive = reader.lock()) alive->tell(kind, data);
}

bool event_hub::has_readers() {
    const std::lock_guard lock{mutex_};
    return std::ranges::any_of(readers_, [](const auto& r) { return !r.expired(); });
}

void event_hub::close() {
    const std::lock_guard lock{mutex_};
    closed_ = true;
    for (const auto& reader : readers_)
        if (const auto alive = reader.lock()) alive->close();
}

}  // namespace cvrig::service
