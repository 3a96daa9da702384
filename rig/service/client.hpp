#pragma once

#include <functional>
#include <string>

#include "rig/service/daemon_address.hpp"

namespace cvrig::service {

/// What a daemon answered.
struct daemon_answer {
    int status{0};
    std::string body;
};

/// Speaks to a daemon on this machine. Throws no_daemon if nobody answers.
class daemon_client {
public:
    explicit daemon_client(daemon_address to) : to_{std::move(to)} {}

    [[nodiscard]] daemon_answer get(const std::string& path) const;
    [[nodiscard]] daemon_answer post(const std::string& path, const std::string& json) const;

private:
    daemon_address to_;
};

/// The sentence of an answer that is an error: throws user_error with it; else nothing happens.
void require_good(const daemon_answer& a);

}  // namespace cvrig::service
