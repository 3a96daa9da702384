#pragma once

#include <optional>
#include <string>
#include <string_view>

namespace cvrig::service {

/// Of a request what decides whether it is answered at all.
struct request_facts {
    std::string method;
    std::string host;      ///< header Host; empty if it is missing
    std::size_t hosts{1};  ///< how often that header was sent
    std::string origin;    ///< header Origin; empty if it is missing
    bool has_origin{false};
    std::string content_type;
    std::string token;  ///< header X-Cvrig-Token
    bool has_known_length{true};
    bool is_encoded{false};  ///< header Content-Encoding or Transfer-Encoding
};

/// Why a request is not answered.
struct refusal {
    int status{403};
    std::string sentence;
};

enum class needs_token { yes, no };

/// The rules for every request: a page of somebody else, in a browser on this machine, must neither
/// read nor do anything here, whatever name it gives this machine.
///
/// A Host other than 127.0.0.1, localhost or [::1] with our port is refused (421; DNS rebinding), so
/// is an Origin that is not one of these (403), a method other than GET, HEAD and POST (405), and a
/// body that is encoded or of unknown length (411, 415).
[[nodiscard]] std::optional<refusal> refused(const request_facts& r, int port);

/// The rules for what changes something, beside those above: JSON, which no foreign form can send
/// (415), and the token (401), unless it is needed by nobody.
[[nodiscard]] std::optional<refusal> refused_change(const request_facts& r, std::string_view token,
                                                    needs_token needs);

}  // namespace cvrig::service
