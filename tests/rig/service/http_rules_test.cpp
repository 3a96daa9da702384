#include "rig/service/http_rules.hpp"

#include <catch2/catch.hpp>
#include <string>

namespace {

using namespace cvrig::service;

constexpr int port = 8737;
const std::string token(64, 'a');

request_facts plain(const std::string& method = "GET") {
    request_facts r;
    r.method = method;
    r.host = "127.0.0.1:8737";
    return r;
}

request_facts change() {
    auto r = plain("POST");
    r.content_type = "application/json";
    r.token = token;
    return r;
}

int status_of(const request_facts& r) {
    const auto why = refused(r, port);
    return why ? why->status : 200;
}

int status_of_change(const request_facts& r, needs_token needs = needs_token::yes) {
    const auto why = refused_change(r, token, needs);
    return why ? why->status : 200;
}

}  // namespace

TEST_CASE("only this machine's own names with this port are answered", "[service][http]") {
    // RFC 9110, 15.5.20: 421 for a request that is meant for another authority.
    auto r = plain();
    for (const auto* host : {"127.0.0.1:8737", "localhost:8737", "LOCALHOST:8737", "[::1]:8737"}) {
        r.host = host;
        CHECK(status_of(r) == 200);
    }
    for (const auto* host : {"", "127.0.0.1", "localhost", "127.0.0.1:80", "example.org:8737",
                             "127.0.0.1:8737.example.org", "localhost:8737:1", "127.0.0.2:8737",
                             "0.0.0.0:8737", " 127.0.0.1:8737"}) {
        CAPTURE(host);
        r.host = host;
        CHECK(status_of(r) == 421);
    }
}

TEST_CASE("two names in one request are refused, and so is none", "[service][http]") {
    auto r = plain();
    r.hosts = 2;
    CHECK(status_of(r) == 421);
    r.hosts = 0;
    CHECK(status_of(r) == 421);
}

TEST_CASE("a page from elsewhere is refused whatever it asks", "[service][http]") {
    for (const auto* method : {"GET", "POST"}) {
        auto r = plain(method);
        r.has_origin = true;
        r.origin = "http://localhost:8737";
        CHECK(status_of(r) == 200);
        for (const auto* origin :
             {"", "null", "https://127.0.0.1:8737", "http://127.0.0.1", "http://127.0.0.1:8080",
              "http://example.org", "http://127.0.0.1:8737.example.org", "file://"}) {
            CAPTURE(method, origin);
            r.origin = origin;
            CHECK(status_of(r) == 403);
        }
    }
}

TEST_CASE("other methods, encoded bodies and bodies without end are refused", "[service][http]") {
    for (const auto* method : {"PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "CONNECT"})
        CHECK(status_of(plain(method)) == 405);
    auto r = plain("POST");
    r.is_encoded = true;
    CHECK(status_of(r) == 415);
    r = plain("POST");
    r.has_known_length = false;
    CHECK(status_of(r) == 411);
}

TEST_CASE("a change needs JSON, which no form of a foreign page can send", "[service][http]") {
    auto r = change();
    CHECK(status_of_change(r) == 200);
    r.content_type = "application/json; charset=utf-8";
    CHECK(status_of_change(r) == 200);
    // Fetch Standard: what a page may send elsewhere without being allowed to first.
    for (const auto* type :
         {"", "text/plain", "application/x-www-form-urlencoded", "multipart/form-data",
          "text/plain; a=application/json", "application/jsonx"}) {
        CAPTURE(type);
        r.content_type = type;
        CHECK(status_of_change(r) == 415);
        CHECK(status_of_change(r, needs_token::no) == 415);
    }
}

TEST_CASE("a change needs the whole token; silence needs none", "[service][http]") {
    auto r = change();
    for (const auto& wrong : {std::string{}, token.substr(1), token + "a", std::string(64, 'b')}) {
        r.token = wrong;
        CHECK(status_of_change(r) == 401);
        CHECK(status_of_change(r, needs_token::no) == 200);
    }
}
