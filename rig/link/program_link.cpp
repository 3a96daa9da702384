#include "rig/link/program_link.hpp"

#include <fmt/format.h>

#include <optional>
#include <string_view>
#include <system_error>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/link/command.hpp"
#include "rig/link/response.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"
#include "rig/stimulus/wave_file.hpp"

namespace cvrig {
namespace {

namespace fs = std::filesystem;

std::vector<std::string> ready_command(const program_link_settings& settings,
                                       const program_link_options& options, const fs::path& folder,
                                       const setting_choice& choice) {
    command_context context{options.substitutions, choice, options.search_folders};
    context.names["stimulus"] = (folder / "stimulus.wav").string();
    context.names["response"] = (folder / "response.wav").string();
    return command_for(settings, context);
}

/// The last line that a program wrote; empty if it wrote none.
std::string_view last_words(std::string_view text) {
    constexpr std::string_view blank = " \t\r\n";
    const auto end = text.find_last_not_of(blank);
    if (end == std::string_view::npos) return {};
    text = text.substr(0, end + 1);
    const auto line = text.find_last_of('\n');
    return line == std::string_view::npos ? text : text.substr(line + 1);
}

std::string status_problem(const process_result& r) {
    if (r.status == 0) return "";
    constexpr std::size_t most_words_bytes = 200;
    const auto words = last_words(r.err.text);
    return fmt::format("the program ended with status {}", r.status) +
           (words.empty() ? "" : fmt::format(" and said {}", quoted(words, most_words_bytes)));
}

/// Why the program's end makes the take bad; empty if it ended well.
std::string ending_problem(const process_result& r, seconds time_limit) {
    using ending = process_result::ending;
    switch (r.how) {
        case ending::exited:
            return status_problem(r);
        case ending::killed_by_signal:
            return fmt::format("the program was ended by a {}", signal_in_words(r.signal));
        case ending::timed_out:
            return fmt::format("the program did not end within {:g} s and was stopped",
                               time_limit.value());
        case ending::cancelled:
            return "the take was stopped before the program had ended";
        case ending::could_not_start:
            break;
    }
    return fmt::format("the program could not start: {}", r.reason);
}

std::string log_of(const process_result& r) {
    std::string log;
    if (r.err.left_out > 0)
        log += fmt::format("[the first {} bytes are left out]\n", r.err.left_out);
    log += r.err.text;
    return log;
}

void note(take& t, std::string_view sentence) {
    if (!t.log.empty() && t.log.back() != '\n') t.log += '\n';
    t.log += fmt::format("[{}]\n", sentence);
}

/// The folder of one take: kept under a telling name, or gone afterwards.
class take_folder {
public:
    take_folder(const program_link_options& options, int number, int attempt) {
        if (!options.keep_takes) {
            passing_.emplace(options.working_folder);
            path_ = fs::absolute(passing_->path());
            return;
        }
        path_ =
            fs::absolute(options.working_folder) / fmt::format("take-{:04}-{}", number, attempt);
        std::error_code failed;
        // A response of an earlier run must never be judged as this one's.
        fs::remove_all(path_, failed);
        fs::create_directories(path_, failed);
        if (failed)
            throw user_error{
                fmt::format("cannot make the folder '{}': {}", path_.string(), failed.message())};
    }

    [[nodiscard]] const fs::path& path() const noexcept { return path_; }

private:
    std::optional<temporary_folder> passing_;
    fs::path path_;
};

}  // namespace

program_link::program_link(program_link_settings settings, program_link_options options)
    : settings_{std::move(settings)}, options_{std::move(options)} {
    (void)ready_command(settings_, options_, options_.working_folder, {});
}

take program_link::play(const stimulus& s, const setting_choice& choice, int number, int attempt) {
    take t = begin_take(s, choice, number, attempt);
    t.heard_jacks = options_.recorded;
    const take_folder folder{options_, number, attempt};
    write_wave_file(folder.path() / "stimulus.wav", {s.rate, s.volts});
    run(folder.path(), t);
    return t;
}

void program_link::run(const fs::path& folder, take& t) const {
    const auto command = ready_command(settings_, options_, folder, t.choice);
    process_options how;
    how.time_limit = settings_.time_limit;
    how.stop = options_.stop;
    const auto result = run_process(command, how);
    if (result.how == process_result::ending::could_not_start)
        throw user_error{{complaint{settings_.where, fmt::format("cannot start '{}': {}",
                                                                 command.front(), result.reason)}}};
    t.wall = result.wall;
    t.log = log_of(result);
    if (result.left_children) note(t, "the program left a process behind, which was ended");
    if (auto problem = ending_problem(result, settings_.time_limit); !problem.empty()) {
        t.problems.push_back(std::move(problem));
        return;
    }
    read_response(folder / "response.wav", t);
    if (t.problems.empty() && is_all_zero(t.heard))
        note(t, "the response is exactly 0 V on every channel for the whole take");
}

std::string program_link::description() const {
    return in_words(settings_);
}

std::string in_words(const program_link_settings& link) {
    // The command's own words; files, settings and what stands for them differ from take to take.
    std::string words;
    for (const auto& argument : link.command) {
        if (argument.find_first_of("{=") != std::string::npos) break;
        words += (words.empty() ? "" : " ") + argument;
    }
    return fmt::format("program {}, {:g} kHz", words, link.rate.value() / 1000.0);
}

}  // namespace cvrig
