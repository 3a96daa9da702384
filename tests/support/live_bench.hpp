#pragma once

#include <filesystem>
#include <memory>
#include <string>
#include <vector>

#include "rig/platform/files.hpp"
#include "tests/support/child_program.hpp"

namespace cvrig::test_support {

/// How a live bench is put together.
struct live_bench_settings {
    std::string server_program{"jackd"};
    std::string desk_program{CVRIG_DESK_PROGRAM};
    std::string module_program{CVRIG_MODULE_PROGRAM};
    unsigned rate_hertz{48000};
    unsigned block_frames{256};
    std::string cables{"1:pitch,2:gate,3:accent,4:slide,5:cutoff,6:decay"};
    std::string back{"left:1,right:2"};
    std::string loop{"7:3"};
    std::vector<std::string> desk_arguments;    ///< more, such as "fault=hum:0.1"
    std::vector<std::string> module_arguments;  ///< such as "unit=7", "image=FILE"
    bool with_module{true};
    /// The server waits for its clients (-S): on a busy machine nothing is lost, but it stands still
    /// for 5 s when a client has died.
    bool waits_for_clients{true};
    bool console_over_tcp{false};
};

/// The demo's live bench: a JACK server without a sound card, the interface "desk" and the module
/// Ferrule, each a process of its own that ends with this object.
///
/// While it lives, JACK clients of this process and of its children find its server as the default
/// one. Everything waits at most 10 s; a failure is a std::runtime_error with what the part said.
class live_bench {
public:
    explicit live_bench(live_bench_settings settings = {});
    live_bench(const live_bench&) = delete;
    live_bench& operator=(const live_bench&) = delete;
    ~live_bench();

    /// Whether this machine can have one: false without a jackd on PATH.
    [[nodiscard]] static bool is_possible();

    [[nodiscard]] const std::string& server() const noexcept { return server_name_; }
    [[nodiscard]] const std::filesystem::path& folder() const noexcept { return folder_.path(); }
    /// What the module keeps: its flash is this file, from one start to the next.
    [[nodiscard]] std::filesystem::path flash() const { return folder() / "unit.flash"; }
    /// Where the module's console is: the path of a terminal, or "127.0.0.1:PORT".
    [[nodiscard]] std::string console() const;

    [[nodiscard]] child_program& jackd() { return *jackd_; }
    [[nodiscard]] child_program& desk() { return *desk_; }
    [[nodiscard]] child_program& module() { return *module_; }

    /// A control line to the interface; its answer, which is "ok" or begins "no: ".
    std::string ask_desk(const std::string& line);
    /// The same; throws unless the answer is "ok".
    void tell_desk(const std::string& line);

    /// Ends a part if it runs, and starts it; returns once it is ready and its cables are plugged.
    void restart_module(const std::vector<std::string>& arguments);
    void restart_desk(const std::vector<std::string>& arguments);
    void end_module() { module_.reset(); }
    void end_desk() { desk_.reset(); }
    void end_server();

private:
    /// Puts a value into the environment of this process, and what was there back.
    class environment_value {
    public:
        environment_value(std::string name, const std::string& value);
        ~environment_value();
        environment_value(const environment_value&) = delete;
        environment_value& operator=(const environment_value&) = delete;

    private:
        std::string name_;
        std::string old_;
        bool had_{false};
    };

    [[nodiscard]] std::vector<std::string> server_command(const std::string& name) const;
    [[nodiscard]] std::filesystem::path next_log(const std::string& part);
    [[nodiscard]] bool desk_came_up();
    void start_server();
    void start_desk();
    void start_module();
    void await_cables();
    void free_slot(const std::string& name);
    void free_abandoned_slots();

    live_bench_settings settings_;
    std::string server_name_;
    temporary_folder folder_;
    environment_value default_server_;
    environment_value no_reservation_;
    int logs_{0};
    std::unique_ptr<child_program> jackd_;
    std::unique_ptr<child_program> desk_;
    std::unique_ptr<child_program> module_;
};

}  // namespace cvrig::test_support
