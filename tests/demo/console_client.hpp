#pragma once

#include <chrono>
#include <optional>
#include <string>

namespace live {

/// The computer's end of a console: a terminal by its path, or "127.0.0.1:PORT".
class console_client {
public:
    /// Throws std::runtime_error when it cannot be opened.
    explicit console_client(const std::string& address);
    ~console_client();
    console_client(const console_client&) = delete;
    console_client& operator=(const console_client&) = delete;

    void send(const std::string& line);
    /// The next line, or nothing in that time or when the other end has gone.
    std::optional<std::string> receive(std::chrono::milliseconds at_most = std::chrono::seconds{
                                           20});
    std::string ask(const std::string& line);
    [[nodiscard]] bool is_hung_up() const noexcept { return hung_up_; }

private:
    int wire_ = -1;
    bool hung_up_ = false;
    std::string arrived_;
};

}  // namespace live
