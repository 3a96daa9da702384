#pragma once

#include <sys/types.h>

#include <chrono>
#include <optional>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/spawn.hpp"

namespace cvrig::test {

/// A child process that is gone with its object, whatever happened.
class child {
public:
    child(const std::vector<std::string>& argv);
    ~child();
    child(const child&) = delete;
    child& operator=(const child&) = delete;

    /// Reads its output until it holds `words`; false if it ended or took more than 10 s.
    bool wait_for(const std::string& words);
    void signal(int number) const;
    /// Waits for its end; the exit status, or minus the signal that ended it.
    std::optional<int> wait_for_end(std::chrono::seconds patience = std::chrono::seconds{10});
    [[nodiscard]] const std::string& said() const { return said_; }
    void read_all();

private:
    started_process process_;
    std::string said_;
    bool reaped_{false};
};

/// A JACK server of our own with a client "desk" whose outputs lead straight to its inputs. JACK
/// clients of this process find it as their default server.
class jack_bench {
public:
    /// `waits`: the server waits for every client in each block, so a busy machine loses nothing.
    explicit jack_bench(const std::string& rate = "48000", bool waits = true);
    ~jack_bench();
    jack_bench(const jack_bench&) = delete;
    jack_bench& operator=(const jack_bench&) = delete;

    [[nodiscard]] child& server() { return *server_; }
    [[nodiscard]] child& desk() { return *desk_; }
    void kill_server();
    void start_server();
    void start_desk();
    /// What the desk heard on its first two outputs, channel by channel; ends the desk.
    [[nodiscard]] std::vector<std::vector<float>> heard();

    /// A bench file for it: jacks a, b (channels 1, 2), loop-back on 3, recorded jacks left, right.
    [[nodiscard]] static std::string bench_text(const std::string& more_of_link = "");
    [[nodiscard]] bench read(const std::string& more_of_link = "") const;
    [[nodiscard]] const std::filesystem::path& folder() const { return folder_.path(); }

private:
    temporary_folder folder_;
    std::string name_;
    std::string rate_;
    bool waits_;
    bool killed_{false};
    std::optional<child> server_, desk_;
};

}  // namespace cvrig::test
