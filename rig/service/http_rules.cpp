#include "rig/service/http_rules.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>

#include "rig/platform/secrets.hpp"

namespace cvrig::service {

namespace {

constexpr std::array<std::string_view, 3> own_names{"127.0.0.1", "localhost", "[::1]"};

std::string lower(std::string text) {
    std::ranges::transform(text, text.begin(),
                           [](unsigned char c) { return static_cast<char>(std::tolower(c)); });
    return text;
}

bool is_own(const std::string& host, int port) {
    return std::ranges::any_of(own_names, [&](std::string_view name) {
        return lower(host) == fmt::format("{}:{}", name, port);
    });
}

bool is_json(const std::string& content_type) {
    const auto kind = lower(content_type.substr(0, content_type.find(';')));
    const auto end = kind.find_last_not_of(" \t");
    return kind.substr(0, end == std::string::npos ? 0 : end + 1) == "application/json";
}

}  // namespace

std::optional<refusal> refused(const request_facts& r, int port) {
    if (r.hosts != 1 || !is_own(r.host, port))
        return refusal{421, fmt::format("Ask for 127.0.0.1:{} or localhost:{}.", port, port)};
    constexpr std::string_view scheme{"http://"};
    if (r.has_origin &&
        (!r.origin.starts_with(scheme) || !is_own(r.origin.substr(scheme.size()), port)))
        return refusal{403, "A page from elsewhere may not ask this daemon."};
    if (r.method != "GET" && r.method != "HEAD" && r.method != "POST")
        return refusal{405, "This daemon knows GET and POST."};
    if (r.is_encoded) return refusal{415, "Send the body as it is, without an encoding."};
    if (!r.has_known_length) return refusal{411, "Say how long the body is."};
    return std::nullopt;
}

std::optional<refusal> refused_change(const request_facts& r, std::string_view token,
                                      needs_token needs) {
    if (!is_json(r.content_type)) return refusal{415, "Send application/json."};
    if (needs == needs_token::yes && !is_same_secret(r.token, token))
        return refusal{401,
                       "This needs the token: open the page by the address that the daemon told "
                       "when it started."};
    return std::nullopt;
}

}  // namespace cvrig::service
