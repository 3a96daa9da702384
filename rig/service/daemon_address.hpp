#pragma once

#include <filesystem>
#include <string>
#include <vector>

#include "rig/expectations/user_error.hpp"

namespace cvrig::service {

/// There is no daemon to speak to.
class no_daemon : public user_error {
public:
    using user_error::user_error;
};

/// How a daemon on this machine is reached. It lies in a file beside the daemon's lock that only its
/// owner may read, since it holds the token.
struct daemon_address {
    int pid{0};
    int port{0};
    std::string token, bench, bench_file, module;
};

/// Beside this lock.
[[nodiscard]] std::filesystem::path address_file_of(const std::filesystem::path& lock);

/// Throws user_error if it cannot be written.
void write_address(const std::filesystem::path& file, const daemon_address& a);

/// The daemons of this user whose processes live.
[[nodiscard]] std::vector<daemon_address> living_daemons();

/// The daemon of that bench file; the only one there is, if none is named.
/// Refuses: throws no_daemon if there is none, user_error if there are several to choose from.
[[nodiscard]] daemon_address find_daemon(const std::string& bench_file);

}  // namespace cvrig::service
