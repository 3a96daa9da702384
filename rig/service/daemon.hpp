#pragma once

#include <functional>
#include <stop_token>
#include <string>
#include <vector>

namespace cvrig::service {

/// What `cvrig serve` was asked.
struct serve_options {
    std::string expectations, bench;
    std::vector<std::string> watch;  ///< folders and paths of images
    std::string unit;
    std::string history;                   ///< address
    std::string reports{"cvrig-reports"};  ///< folder
    int port{8737};                        ///< 0: any
    std::vector<std::string> with;
    bool newest_first{false};
    bool unattended{false};
    std::string program;  ///< cvrig itself
    std::string rig_version;
    std::string command;  ///< what a second owner of the bench is told
};

/// Owns a bench and runs what it is given, until it is asked to stop; then outputs return to 0 V, and
/// what ran waits again for the next daemon.
///
/// `ready` is called once with the page's address, token and all, when requests are answered.
/// Refuses: throws user_error for files, a history, a port or folders that cannot be used, and for a
///          bench that somebody else owns.
void serve(const serve_options& options, const std::stop_token& stop,
           const std::function<void(const std::string& page)>& ready);

}  // namespace cvrig::service
