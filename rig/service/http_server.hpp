#pragma once

#include <functional>
#include <map>
#include <memory>
#include <string>
#include <vector>

#include "rig/service/event_hub.hpp"
#include "rig/service/http_rules.hpp"

namespace cvrig::service {

/// What a handler gets to see of a request that the rules let through.
struct http_request {
    std::vector<std::string> parts;  ///< what the path's pattern caught, from the first group on
    std::map<std::string, std::string> query;
    std::string body;
};

/// An answer.
struct http_answer {
    int status{200};
    std::string type{"application/json"};
    std::string body;
    std::map<std::string, std::string> headers{};
};

/// {"error": sentence}
[[nodiscard]] http_answer error_answer(int status, const std::string& sentence);

using http_handler = std::function<http_answer(const http_request&)>;

/// HTTP/1.1 on 127.0.0.1, with the rules of http_rules.hpp before every handler. One request a
/// connection; at most 64 at a time, and bodies of at most 64 KiB. A handler that throws
/// answers with the sentence: 404 for history::nothing_found, 503 for any other store_error, 400 for any
/// other user_error.
class http_server {
public:
    /// `log` is told what no handler should have let through.
    http_server(std::string token, std::function<void(const std::string&)> log);
    http_server(const http_server&) = delete;
    http_server& operator=(const http_server&) = delete;
    ~http_server();

    /// `pattern` is a regular expression for the whole path, which is decoded before.
    void on_get(const std::string& pattern, http_handler handler);
    void on_post(const std::string& pattern, needs_token needs, http_handler handler);
    /// Server-sent events; `first` tells a new reader what there is.
    void on_events(const std::string& path, event_hub& hub,
                   std::function<void(event_stream&)> first);

    /// Takes a port, any one for 0, and returns it. Throws user_error if it is taken.
    [[nodiscard]] int bind(int port);
    /// Answers in threads of its own until it is stopped. Only after bind() and all handlers.
    void start();
    void stop();

private:
    struct inner;
    std::unique_ptr<inner> inner_;
};

}  // namespace cvrig::service
