#include "rig/flash/run_step.hpp"

#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <filesystem>
#include <string_view>
#include <utility>
#include <vector>

#include "rig/expectations/quantity.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/process.hpp"
#include "rig/report/text.hpp"

namespace cvrig {

namespace {

/// How it went wrong, to complete "The flash step ..."; empty if it did not.
std::string fault_of(const process_result& r, const bench_step& step, const std::string& program) {
    using ending = process_result::ending;
    const auto time = show(r.wall.value(), dimension::seconds, 3);
    switch (r.how) {
        case ending::exited:
            if (r.status == 0) return {};
            return fmt::format("failed with status {} after {}", r.status, time);
        case ending::killed_by_signal:
            return fmt::format("crashed after {}: {}", time, signal_in_words(r.signal));
        case ending::timed_out:
            return fmt::format("did not end within its time limit of {}",
                               show(step.time_limit.value(), dimension::seconds));
        case ending::cancelled:
            return "was stopped";
        case ending::could_not_start:
            break;
    }
    return fmt::format("cannot start {}: {}", program, r.reason);
}

}  // namespace

std::string last_lines(const preparation_step& step) {
    constexpr std::size_t most_lines = 10;
    constexpr std::size_t most_columns = 200;
    std::vector<std::string_view> lines;
    for (std::string_view rest = step.output; !rest.empty();) {
        // A program that shows its progress writes over its line.
        const auto end = std::min(rest.find_first_of("\r\n"), rest.size());
        if (end > 0) lines.push_back(rest.substr(0, end));
        rest.remove_prefix(std::min(end + 1, rest.size()));
    }
    std::string out;
    for (std::size_t i = lines.size() - std::min(lines.size(), most_lines); i < lines.size(); ++i)
        out += fmt::format("\n  | {}", report::clipped(report::one_line(lines[i]), most_columns));
    return out;
}

std::string in_words(std::span<const std::string> command) {
    std::vector<std::string> words;
    for (const auto& word : command) {
        const bool is_plain = !word.empty() && word.find_first_of(" \t\n\"'") == std::string::npos;
        words.push_back(is_plain ? word : fmt::format("\"{}\"", word));
    }
    return fmt::format("{}", fmt::join(words, " "));
}

preparation_step run_step(const std::string& name, const bench_step& step,
                          std::span<const std::string> command, std::stop_token stop) {
    if (!step.folder.empty() && !std::filesystem::is_directory(step.folder))
        throw user_error{fmt::format(
            "The folder {} of the {} step does not exist; correct 'folder' in the bench "
            "file; nothing was judged.",
            step.folder, name)};
    // A program that writes to a module's flash is given time to leave it in good order.
    const seconds grace{name == "flash" ? 5.0 : 1.0};
    auto r = run_process(command, {.time_limit = step.time_limit,
                                   .grace = grace,
                                   .keep_bytes = 16384,
                                   .stop = std::move(stop),
                                   .folder = step.folder,
                                   .as_one_stream = true});
    preparation_step out{.step = name,
                         .command = in_words(command),
                         .output = std::move(r.out.text),
                         .left_out_bytes = r.out.left_out,
                         .took = r.wall,
                         .time_limit = step.time_limit};
    const auto fault = fault_of(r, step, command.front());
    if (!fault.empty())
        throw user_error{
            fmt::format("The {} step {}; nothing was judged.{}", name, fault, last_lines(out))};
    return out;
}

}  // namespace cvrig
