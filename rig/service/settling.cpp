#include "rig/service/settling.hpp"

#include <algorithm>

namespace cvrig::service {

namespace fs = std::filesystem;
using namespace std::chrono_literals;

namespace {

constexpr auto quiet_time = 500ms;
constexpr auto between_looks = 200ms;

}  // namespace

void settling_files::touched(const fs::path& file, steady_point now) {
    const auto found = files_.find(file);
    if (found == files_.end()) return;
    found->second.changed = now;
    found->second.first_look.clear();
    found->second.left = false;
}

void settling_files::seen(const fs::path& file, const file_look& look, steady_point now) {
    const auto [at, is_new] = files_.try_emplace(file);
    if (!is_new && at->second.look == look) return;
    at->second.look = look;
    touched(file, now);
}

void settling_files::gone(const fs::path& file) {
    files_.erase(file);
}

std::vector<fs::path> settling_files::ready(steady_point now) const {
    std::vector<fs::path> out;
    for (const auto& [file, w] : files_) {
        const bool is_due = w.first_look.empty() || now - w.first_looked >= between_looks;
        if (!w.left && now - w.changed >= quiet_time && is_due) out.push_back(file);
    }
    return out;
}

bool settling_files::is_whole(const fs::path& file, const std::string& sha256, steady_point now) {
    const auto found = files_.find(file);
    if (found == files_.end()) return false;
    auto& w = found->second;
    if (w.first_look == sha256) {
        w.left = true;
        return true;
    }
    // Its bytes changed, and neither its time nor its size did.
    if (!w.first_look.empty()) w.changed = now;
    w.first_look = sha256;
    w.first_looked = now;
    return false;
}

void settling_files::leave(const fs::path& file) {
    if (const auto found = files_.find(file); found != files_.end()) found->second.left = true;
}

bool settling_files::waits() const {
    return std::ranges::any_of(files_, [](const auto& one) { return !one.second.left; });
}

}  // namespace cvrig::service
