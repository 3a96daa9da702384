#pragma once

#include <chrono>
#include <condition_variable>
#include <deque>
#include <map>
#include <memory>
#include <mutex>
#include <optional>
#include <string>
#include <vector>

namespace cvrig::service {

/// Events on their way to one reader. Of "bench", "levels" and "queue" only the latest waits, since
/// each says everything; of others the latest hundred. So a slow reader misses some, and nobody ever
/// waits for it.
class event_stream {
public:
    /// The next event as it is sent (HTML Living Standard, 9.2.5: server-sent events), nothing when
    /// the time is over.
    [[nodiscard]] std::optional<std::string> next(std::chrono::milliseconds wait);
    [[nodiscard]] bool is_closed() const;

    void tell(const std::string& kind, const std::string& data);
    void close();

private:
    mutable std::mutex mutex_;
    std::condition_variable changed_;
    std::map<std::string, std::string> latest_;
    std::deque<std::string> others_;
    bool closed_{false};
};

/// Hands every event to every reader.
class event_hub {
public:
    /// Null if there are too many readers already, or it is closed.
    [[nodiscard]] std::shared_ptr<event_stream> listen();
    void tell(const std::string& kind, const std::string& data);
    [[nodiscard]] bool has_readers();
    void close();

private:
    std::mutex mutex_;
    std::vector<std::weak_ptr<event_stream>> readers_;
    bool closed_{false};
};

}  // namespace cvrig::service
