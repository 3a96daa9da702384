#include "rig/service/http_server.hpp"

#include <fmt/format.h>
#include <httplib.h>

#include <exception>
#include <nlohmann/json.hpp>
#include <thread>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/history/database.hpp"
#include "rig/platform/sockets.hpp"
#include "rig/report/text.hpp"

namespace cvrig::service {

namespace {

using namespace std::chrono_literals;

constexpr auto host = "127.0.0.1";
constexpr std::size_t most_threads = 64;
constexpr std::size_t largest_body_bytes = std::size_t{64} * 1024;
constexpr auto between_signs_of_life = 15s;

request_facts facts_of(const httplib::Request& r) {
    request_facts f;
    f.method = r.method;
    f.host = r.get_header_value("Host");
    f.hosts = r.get_header_value_count("Host");
    f.has_origin = r.has_header("Origin");
    f.origin = r.get_header_value("Origin");
    f.content_type = r.get_header_value("Content-Type");
    f.token = r.get_header_value("X-Cvrig-Token");
    f.has_known_length = r.method != "POST" || r.has_header("Content-Length");
    f.is_encoded = r.has_header("Content-Encoding") || r.has_header("Transfer-Encoding");
    return f;
}

void set(httplib::Response& to, const http_answer& a) {
    to.status = a.status;
    for (const auto& [name, text] : a.headers) {
        to.headers.erase(name);
        to.set_header(name, text);
    }
    to.set_content(a.body, a.type);
}

void set(httplib::Response& to, const refusal& why) {
    set(to, error_answer(why.status, why.sentence));
}

http_request request_of(const httplib::Request& r) {
    http_request out;
    for (std::size_t i = 1; i < r.matches.size(); ++i) out.parts.push_back(r.matches[i].str());
    for (const auto& [name, text] : r.params) out.query.emplace(name, text);
    out.body = r.body;
    return out;
}

http_answer answer_by(const http_handler& handler, const http_request& r) {
    try {
        return handler(r);
    } catch (const history::nothing_found& e) {
        return error_answer(404, e.what());
    } catch (const history::store_error& e) {
        return error_answer(503, e.what());
    } catch (const user_error& e) {
        return error_answer(400, e.what());
    }
}

std::string sentence_of(const std::exception_ptr& thrown) {
    try {
        std::rethrow_exception(thrown);
    } catch (const std::exception& e) {
        return e.what();
    } catch (...) {
        return "unknown";
    }
}

httplib::Headers default_headers() {
    return {{"Content-Security-Policy",
             "default-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"},
            {"X-Content-Type-Options", "nosniff"},
            {"Referrer-Policy", "no-referrer"},
            {"Cross-Origin-Resource-Policy", "same-origin"},
            {"Cache-Control", "no-store"}};
}

/// Sends events to one reader until it or the server goes.
bool send_events(event_stream& from, httplib::DataSink& to,
                 std::chrono::steady_clock::time_point& last) {
    constexpr auto look = 500ms;
    if (from.is_closed()) return false;
    auto text = from.next(look);
    const auto now = std::chrono::steady_clock::now();
    if (!text && now - last >= between_signs_of_life) text = ": here\n\n";
    if (!text) return to.is_writable();
    last = now;
    return to.write(text->data(), text->size());
}

}  // namespace

http_answer error_answer(int status, const std::string& sentence) {
    const nlohmann::json body{{"error", sentence}};
    return {status, "application/json",
            body.dump(-1, ' ', false, nlohmann::json::error_handler_t::replace) + "\n"};
}

struct http_server::inner {
    httplib::Server server;
    std::string token;
    std::function<void(const std::string&)> log;
    int port{0};
    std::jthread listener;
};

http_server::http_server(std::string token, std::function<void(const std::string&)> log)
    : inner_{std::make_unique<inner>()} {
    auto& s = inner_->server;
    inner_->token = std::move(token);
    inner_->log = std::move(log);
    s.new_task_queue = [] { return new httplib::ThreadPool(most_threads); };
    s.set_keep_alive_max_count(1);
    s.set_payload_max_length(largest_body_bytes);
    s.set_read_timeout(5s);
    s.set_write_timeout(5s);
    s.set_default_headers(default_headers());
    s.set_socket_options([](socket_t socket) { allow_quick_restart(socket); });
    s.set_pre_routing_handler([this](const httplib::Request& r, httplib::Response& to) {
        // A small body is read first: an answer to a client that still sends may get lost.
        const auto facts = facts_of(r);
        const bool is_read_first =
            r.method == "POST" && facts.has_known_length && !facts.is_encoded;
        const auto why = is_read_first ? std::nullopt : refused(facts, inner_->port);
        if (!why) return httplib::Server::HandlerResponse::Unhandled;
        set(to, *why);
        return httplib::Server::HandlerResponse::Handled;
    });
    s.set_error_handler([](const httplib::Request&, httplib::Response& to) {
        if (!to.body.empty()) return;
        const auto* sentence = to.status == 404   ? "There is nothing of that name."
                               : to.status == 413 ? "That is too large."
                                                  : "That cannot be answered.";
        set(to, error_answer(to.status, sentence));
    });
    s.set_exception_handler([this](const httplib::Request& r, httplib::Response& to,
                                   const std::exception_ptr& e) {
        inner_->log(fmt::format("{} {}: {}", r.method, report::one_line(r.path), sentence_of(e)));
        set(to, error_answer(500, "The daemon could not do that; its log says more."));
    });
}

http_server::~http_server() {
    stop();
}

void http_server::on_get(const std::string& pattern, http_handler handler) {
    inner_->server.Get(
        pattern, [handler = std::move(handler)](const httplib::Request& r, httplib::Response& to) {
            set(to, answer_by(handler, request_of(r)));
        });
}

void http_server::on_post(const std::string& pattern, needs_token needs, http_handler handler) {
    inner_->server.Post(pattern, [this, needs, handler = std::move(handler)](
                                     const httplib::Request& r, httplib::Response& to) {
        auto why = refused(facts_of(r), inner_->port);
        if (!why) why = refused_change(facts_of(r), inner_->token, needs);
        if (why) {
            set(to, *why);
            return;
        }
        set(to, answer_by(handler, request_of(r)));
    });
}

void http_server::on_events(const std::string& path, event_hub& hub,
                            std::function<void(event_stream&)> first) {
    inner_->server.Get(
        path, [&hub, first = std::move(first)](const httplib::Request&, httplib::Response& to) {
            const auto stream = hub.listen();
            if (stream == nullptr) {
                set(to, error_answer(503, "Too many pages listen already; close one."));
                return;
            }
            first(*stream);
            auto last = std::make_shared<std::chrono::steady_clock::time_point>(
                std::chrono::steady_clock::now());
            to.set_chunked_content_provider("text/event-stream",
                                            [stream, last](std::size_t, httplib::DataSink& sink) {
                                                return send_events(*stream, sink, *last);
                                            });
        });
}

int http_server::bind(int port) {
    auto& s = inner_->server;
    const bool bound =
        port == 0 ? (port = s.bind_to_any_port(host)) > 0 : s.bind_to_port(host, port);
    if (!bound)
        throw user_error{fmt::format(
            "Port {} of this machine is in use; choose another with --port, or 0 for any.", port)};
    inner_->port = port;
    return port;
}

void http_server::start() {
    on_post(".*", needs_token::no, [](const http_request&) {
        return error_answer(404, "There is nothing of that name.");
    });
    inner_->listener = std::jthread{[this] { inner_->server.listen_after_bind(); }};
    while (!inner_->server.is_running()) std::this_thread::sleep_for(1ms);
}

void http_server::stop() {
    inner_->server.stop();
    if (inner_->listener.joinable()) inner_->listener.join();
}

}  // namespace cvrig::service
