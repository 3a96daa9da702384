#include "rig/platform/whereabouts.hpp"

#include <pwd.h>
#include <unistd.h>

#include <algorithm>
#include <array>
#include <cstdlib>
#include <string_view>

namespace cvrig {

namespace {

void add(std::vector<std::string>& to, std::string_view text) {
    if (!text.empty() && std::ranges::find(to, text) == to.end()) to.emplace_back(text);
}

void add_variable(std::vector<std::string>& to, const char* name) {
    if (const char* text = std::getenv(name)) add(to, text);
}

/// "Ann Example,Room 5,,": the name is what stands before the first comma.
void add_full_name(std::vector<std::string>& to, std::string_view gecos) {
    gecos = gecos.substr(0, gecos.find(','));
    add(to, gecos);
    while (!gecos.empty()) {
        const auto end = std::min(gecos.find(' '), gecos.size());
        add(to, gecos.substr(0, end));
        gecos.remove_prefix(std::min(end + 1, gecos.size()));
    }
}

void add_user_entry(whereabouts& to) {
    const passwd* entry = ::getpwuid(::getuid());
    if (entry == nullptr) return;
    if (entry->pw_name != nullptr) add(to.people, entry->pw_name);
    if (entry->pw_gecos != nullptr) add_full_name(to.people, entry->pw_gecos);
    if (entry->pw_dir != nullptr) add(to.folders, entry->pw_dir);
}

void add_host(std::vector<std::string>& to) {
    std::array<char, 256> name{};
    if (::gethostname(name.data(), name.size() - 1) != 0) return;
    const std::string_view whole{name.data()};
    add(to, whole);
    add(to, whole.substr(0, whole.find('.')));
}

}  // namespace

whereabouts own_whereabouts() {
    whereabouts out;
    add_variable(out.people, "USER");
    add_variable(out.people, "LOGNAME");
    add_variable(out.folders, "HOME");
    add_user_entry(out);
    add_host(out.hosts);
    return out;
}

}  // namespace cvrig
