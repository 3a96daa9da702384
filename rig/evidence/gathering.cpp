#include "rig/evidence/gathering.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

#include "rig/evidence/member_name.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/platform/files.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

void add_count(std::vector<std::string>& to, std::size_t n, const char* one, const char* many) {
    if (n > 0) to.push_back(fmt::format("{} {}", n, n == 1 ? one : many));
}

}  // namespace

void gathering::add_text(std::string name, const scrubbed_text& text) {
    const auto file = folder_ / name;
    fs::create_directories(file.parent_path());
    write_file_atomically(file, text.text, durability::unsynced);
    if (text.replaced.all() > 0) {
        replaced_ += text.replaced;
        const std::string where{take_of(name).empty() ? name : "takes"};
        if (std::ranges::find(replaced_in_, where) == replaced_in_.end())
            replaced_in_.push_back(where);
    }
    add_file(std::move(name), file);
}

void gathering::add_file(std::string name, const fs::path& file) {
    members_.push_back({{name, fs::file_size(file), sha256_of_file(file), {}}, {name, file}});
}

void gathering::add_sound(std::vector<ready_member> parts) {
    std::ranges::move(parts, std::back_inserter(members_));
}

std::string gathering::replaced_in_words() const {
    std::vector<std::string> what;
    add_count(what, replaced_.paths, "path or file name", "paths or file names");
    add_count(what, replaced_.ports, "port or serial number", "ports or serial numbers");
    add_count(what, replaced_.addresses, "address or computer's name",
              "addresses or computers' names");
    add_count(what, replaced_.people, "user name", "user names");
    if (what.empty()) return {};
    return fmt::format("{}, in {}", listed(what), listed(replaced_in_));
}

}  // namespace cvrig::evidence
