#include "rig/platform/spawn.hpp"

#include <fcntl.h>
#include <spawn.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cerrno>
#include <csignal>
#include <cstdlib>
#include <filesystem>
#include <optional>
#include <string_view>
#include <system_error>
#include <vector>

#include "rig/platform/process.hpp"

extern char** environ;  // NOLINT(readability-redundant-declaration): not all systems declare it

namespace cvrig {
namespace {

void demand(int error, const char* what) {
    if (error != 0) throw std::system_error{error, std::generic_category(), what};
}

struct pipe_ends {
    descriptor reading;
    descriptor writing;
};

/// Above 2, so that redirection in the child never meets an end that is its own target.
descriptor above_standard(descriptor d) {
    if (d.number() > 2) return d;
    descriptor moved{::fcntl(d.number(), F_DUPFD_CLOEXEC, 3)};
    demand(moved.is_open() ? 0 : errno, "moving a pipe");
    return moved;
}

enum class our_end { reads, writes };

pipe_ends make_pipe(our_end ours) {
    std::array<int, 2> ends{};
    demand(::pipe2(ends.data(), O_CLOEXEC) == 0 ? 0 : errno, "making a pipe");
    descriptor first{ends[0]};
    descriptor second{ends[1]};
    pipe_ends result{above_standard(std::move(first)), above_standard(std::move(second))};
    // Only our end: a program has the right to expect that its own writes block.
    const auto& end = ours == our_end::reads ? result.reading : result.writing;
    demand(::fcntl(end.number(), F_SETFL, O_NONBLOCK) == 0 ? 0 : errno, "a pipe");
    return result;
}

class spawn_actions {
public:
    spawn_actions() { demand(::posix_spawn_file_actions_init(&actions_), "preparing a start"); }
    ~spawn_actions() { ::posix_spawn_file_actions_destroy(&actions_); }
    spawn_actions(const spawn_actions&) = delete;
    spawn_actions& operator=(const spawn_actions&) = delete;

    void run_in(const std::filesystem::path& folder) {
        if (folder.empty()) return;
        demand(::posix_spawn_file_actions_addchdir_np(&actions_, folder.c_str()), "a folder");
    }
    void redirect(const descriptor& in, const descriptor& out, const descriptor& err) {
        demand(in.is_open()
                   ? ::posix_spawn_file_actions_adddup2(&actions_, in.number(), 0)
                   : ::posix_spawn_file_actions_addopen(&actions_, 0, "/dev/null", O_RDONLY, 0),
               "stdin");
        demand(::posix_spawn_file_actions_adddup2(&actions_, out.number(), 1), "stdout");
        demand(::posix_spawn_file_actions_adddup2(&actions_, err.number(), 2), "stderr");
    }

    /// As 3, 4, ...; they lie above all of these numbers, so that none is its own target or in the way.
    void share(std::span<const descriptor> all) {
        int next = first_shared;
        for (const auto& one : all)
            demand(::posix_spawn_file_actions_adddup2(&actions_, one.number(), next++), "sharing");
#ifdef __GLIBC__
        // Libraries open files without the close-on-exec flag.
        demand(::posix_spawn_file_actions_addclosefrom_np(&actions_, next), "closing files");
#endif
    }

    static constexpr int first_shared = 3;

    [[nodiscard]] const posix_spawn_file_actions_t* raw() const {
        return &actions_;
    }

private:
    posix_spawn_file_actions_t actions_{};
};

/// Own process group; no signal blocked or ignored by inheritance.
class spawn_attributes {
public:
    spawn_attributes() {
        demand(::posix_spawnattr_init(&attributes_), "preparing a start");
        sigset_t none{};
        sigset_t usual{};
        ::sigemptyset(&none);
        ::sigemptyset(&usual);
        for (const int s : {SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGPIPE, SIGCHLD, SIGXFSZ})
            ::sigaddset(&usual, s);
        ::posix_spawnattr_setpgroup(&attributes_, 0);
        ::posix_spawnattr_setsigmask(&attributes_, &none);
        ::posix_spawnattr_setsigdefault(&attributes_, &usual);
        ::posix_spawnattr_setflags(
            &attributes_, POSIX_SPAWN_SETPGROUP | POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF);
    }
    ~spawn_attributes() { ::posix_spawnattr_destroy(&attributes_); }
    spawn_attributes(const spawn_attributes&) = delete;
    spawn_attributes& operator=(const spawn_attributes&) = delete;

    [[nodiscard]] const posix_spawnattr_t* raw() const { return &attributes_; }

private:
    posix_spawnattr_t attributes_{};
};

/// Copies with numbers that no target in the child has.
std::vector<descriptor> copied_above(std::span<const int> shared) {
    const int lowest = spawn_actions::first_shared + static_cast<int>(shared.size());
    std::vector<descriptor> out;
    for (const int one : shared) {
        out.emplace_back(::fcntl(one, F_DUPFD_CLOEXEC, lowest));
        demand(out.back().is_open() ? 0 : errno, "sharing a file");
    }
    return out;
}

std::vector<char*> pointers_to(std::vector<std::string>& words) {
    std::vector<char*> out;
    out.reserve(words.size() + 1);
    for (auto& w : words) out.push_back(w.data());
    out.push_back(nullptr);
    return out;
}

std::string_view name_of(std::string_view variable) {
    return variable.substr(0, variable.find('='));
}

/// Ours, with these beside them or in their place.
std::vector<std::string> variables_with(const std::vector<std::string>& more) {
    auto out = more;
    for (char** one = environ; one != nullptr && *one != nullptr; ++one)
        if (std::ranges::none_of(more, [&](const auto& m) { return name_of(m) == name_of(*one); }))
            out.emplace_back(*one);
    return out;
}

bool is_program(const std::filesystem::path& candidate) {
    std::error_code ignored;
    return std::filesystem::is_regular_file(candidate, ignored) &&
           ::access(candidate.c_str(), X_OK) == 0;
}

}  // namespace

started_process start_process(std::span<const std::string> argv, const start_options& options) {
    auto in = options.input == program_input::pipe ? make_pipe(our_end::writes) : pipe_ends{};
    auto out = make_pipe(our_end::reads);
    auto err = make_pipe(our_end::reads);
    spawn_actions actions;
    actions.run_in(options.folder);
    actions.redirect(in.reading, out.writing, options.as_one_stream ? out.writing : err.writing);
    const auto copies = copied_above(options.shared);
    actions.share(copies);
    const spawn_attributes attributes;
    std::vector<std::string> words{argv.begin(), argv.end()};
    const auto raw = pointers_to(words);
    auto variables = variables_with(options.variables);

    started_process result;
    result.error = ::posix_spawnp(&result.pid, raw[0], actions.raw(), attributes.raw(), raw.data(),
                                  pointers_to(variables).data());
    result.in = std::move(in.writing);
    result.out = std::move(out.reading);
    result.err = std::move(err.reading);
    return result;
}

std::string why_not_started(int error) {
    switch (error) {
        case ENOENT:
            return "there is no such program, or the interpreter that its first line names is "
                   "missing";
        case EACCES:
            return "it is not an executable file, or you have no permission to run it";
        case ENOEXEC:
            return "it is not a program for this machine; a script needs a first line such as "
                   "#!/bin/sh";
        case E2BIG:
            return "its arguments are too long";
        default:
            return std::generic_category().message(error);
    }
}

std::optional<std::filesystem::path> find_program(const std::string& name,
                                                  std::span<const std::filesystem::path> folders) {
    if (name.find('/') != std::string::npos) return std::filesystem::path{name};
    for (const auto& folder : folders)
        if (const auto candidate = folder / name; is_program(candidate)) return candidate;
    // Not changed by any of our threads.
    const char* search = std::getenv("PATH");  // NOLINT(concurrency-mt-unsafe)
    std::string_view rest = search == nullptr ? "/usr/bin:/bin" : search;
    while (!rest.empty()) {
        const auto folder = rest.substr(0, rest.find(':'));
        rest.remove_prefix(std::min(rest.size(), folder.size() + 1));
        const auto candidate = std::filesystem::path{folder} / name;
        if (!folder.empty() && is_program(candidate)) return candidate;
    }
    return std::nullopt;
}

}  // namespace cvrig
