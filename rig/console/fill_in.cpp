#include "rig/console/fill_in.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <vector>

#include "rig/bench/bench_sections.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/link/placeholders.hpp"
#include "rig/platform/process.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;
using way = console_settings::way;

class filler {
public:
    filler(const place& where, const std::map<std::string, std::string>& names)
        : where_{where}, names_{names} {}

    std::string operator()(const std::string& text) {
        return with_placeholders(text, [this](const std::string& name) { return value_of(name); });
    }

    [[noreturn]] void refuse(std::string sentence) const {
        throw user_error{std::vector{complaint{where_, std::move(sentence)}}};
    }

private:
    std::string value_of(const std::string& name) const {
        const auto found = names_.find(name);
        if (found != names_.end()) return found->second;
        refuse(
            fmt::format("Nothing is known as {{{0}}}; say what it stands for, as in --with "
                        "{0}=VALUE.",
                        name));
    }

    const place& where_;
    const std::map<std::string, std::string>& names_;
};

/// A bare name of a serial port is no file.
std::string beside(const std::string& path, const place& where) {
    if (path.find('/') == std::string::npos || fs::path{path}.is_absolute()) return path;
    return (fs::absolute(fs::path{where.file}).parent_path() / path).lexically_normal().string();
}

}  // namespace

console_settings filled_in(console_settings how, const std::map<std::string, std::string>& names,
                           std::span<const fs::path> search_folders) {
    filler fill{how.where, names};
    const bool given = how.path.starts_with('{');  // a path from the command line is left alone
    how.path = fill(how.path);
    if (!given && (how.how == way::serial_path || how.how == way::terminal))
        how.path = how.how == way::terminal && how.path.find('/') == std::string::npos
                       ? beside("./" + how.path, how.where)
                       : beside(how.path, how.where);
    if (how.how == way::tcp && !read_host_and_port(how.path, how))
        fill.refuse(fmt::format("{} is no host and port; write for example 'localhost:5025'.",
                                cvrig::quoted(how.path)));
    for (std::size_t i = 0; i < how.command.size(); ++i)
        how.command[i] = beside_bench(fill(how.command[i]), i == 0, how.where.file);
    if (how.how == way::program) {
        const auto found = find_program(how.command.front(), search_folders);
        if (!found || !fs::exists(*found))
            fill.refuse(
                fmt::format("There is no program {}; check its name, or give its path "
                            "relative to the bench file.",
                            cvrig::quoted(how.command.front())));
        how.command.front() = found->string();
    }
    return how;
}

}  // namespace cvrig
