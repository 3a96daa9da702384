#pragma once

#include <cstddef>
#include <filesystem>
#include <optional>
#include <span>
#include <stop_token>
#include <string>
#include <string_view>

#include "analysis/units.hpp"

namespace cvrig {

/// The latest bytes of a stream that may be endless.
struct output_tail {
    std::string text;         ///< the last bytes, at most what was asked to be kept
    std::size_t left_out{0};  ///< bytes that came before `text`
};

struct process_options {
    seconds time_limit{60.0};
    seconds grace{0.5};             ///< between asking the program to end and ending it
    std::size_t keep_bytes{65536};  ///< of each of stdout and stderr
    std::stop_token stop{};
    std::filesystem::path folder{};  ///< in which it runs; empty: ours
    bool as_one_stream{false};       ///< stderr goes where stdout goes, in the order of writing
};

/// How a program went.
struct process_result {
    enum class ending { exited, killed_by_signal, timed_out, cancelled, could_not_start };

    ending how{ending::could_not_start};
    int status{0};       ///< exit status, if it exited
    int signal{0};       ///< number of the signal that killed it, if one did
    std::string reason;  ///< why it could not start: completes "cannot start ...: "
    output_tail out;
    output_tail err;
    bool left_children{false};  ///< something that it had started still held its output at the end
    seconds wall{0.0};
};

/// Runs a program and waits for its end, reading its output all the while.
///
/// The program gets a process group of its own and /dev/null as stdin. When the time limit passes,
/// or the caller asks to stop, the group is asked to end, and killed after the grace. Whatever
/// stays of the group after the program's own end is killed as well; nothing is left unreaped.
///
/// Input:   argv[0] is a path (relative to the folder in which it runs), or a name that is looked up
///          on PATH.
/// Refuses: throws std::system_error only when the machine is out of pipes or memory.
[[nodiscard]] process_result run_process(std::span<const std::string> argv,
                                         const process_options& options = {});

/// The program that `name` means: itself if it holds a slash, otherwise the first executable file
/// of that name in `folders`, then on PATH.
[[nodiscard]] std::optional<std::filesystem::path> find_program(
    const std::string& name, std::span<const std::filesystem::path> folders);

/// "segmentation fault (signal 11)".
[[nodiscard]] std::string signal_in_words(int signal);

}  // namespace cvrig
