#include "rig/service/client.hpp"

#include <fmt/format.h>
#include <httplib.h>

#include <nlohmann/json.hpp>

namespace cvrig::service {

namespace {

daemon_answer answer_of(const httplib::Result& r, const daemon_address& to) {
    if (!r)
        throw no_daemon{fmt::format("The daemon (process {}) does not answer on port {}: {}.",
                                    to.pid, to.port, httplib::to_string(r.error()))};
    return {r->status, r->body};
}

httplib::Client client_to(const daemon_address& to) {
    httplib::Client out{"127.0.0.1", to.port};
    out.set_read_timeout(std::chrono::seconds{30});
    return out;
}

}  // namespace

daemon_answer daemon_client::get(const std::string& path) const {
    auto client = client_to(to_);
    return answer_of(client.Get(path), to_);
}

daemon_answer daemon_client::post(const std::string& path, const std::string& json) const {
    auto client = client_to(to_);
    const httplib::Headers headers{{"X-Cvrig-Token", to_.token}};
    return answer_of(client.Post(path, headers, json, "application/json"), to_);
}

void require_good(const daemon_answer& a) {
    if (a.status < 400) return;
    const auto told = nlohmann::json::parse(a.body, nullptr, false);
    throw user_error{told.is_object() && told.contains("error")
                         ? told.value("error", "")
                         : fmt::format("The daemon answered with status {}.", a.status)};
}

}  // namespace cvrig::service
