#include "rig/console/console_log.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <utility>

namespace cvrig {

namespace {

constexpr std::size_t most_unasked = 100;  // at each end
constexpr std::size_t most_noted = 500;

}  // namespace

void console_log::both_ends::add(entry e, std::size_t most) {
    if (first.size() < most) {
        first.push_back(std::move(e));
        return;
    }
    last.push_back(std::move(e));
    if (last.size() <= most) return;
    last.pop_front();
    ++left_out;
}

void console_log::heard(clock::time_point at, std::string line) {
    unasked_.add({next_++, at, '<', std::move(line)}, most_unasked);
}

void console_log::noted(clock::time_point at, char sign, std::string line) {
    noted_.add({next_++, at, sign, std::move(line)}, most_noted);
}

std::string console_log::text(clock::time_point zero) const {
    std::vector<const entry*> all;
    for (const auto* ends : {&unasked_, &noted_}) {
        for (const auto& e : ends->first) all.push_back(&e);
        for (const auto& e : ends->last) all.push_back(&e);
    }
    std::ranges::sort(all, {}, &entry::order);
    std::string out;
    bool told = unasked_.left_out == 0;
    for (const auto* e : all) {
        if (!told && e->order >= unasked_.last.front().order) {
            out += fmt::format("[{} lines that the module sent unasked are left out]\n",
                               unasked_.left_out);
            told = true;
        }
        const double at = std::chrono::duration<double>(e->at - zero).count();
        out += fmt::format("{:+.3f} s {} {}\n", at, e->sign, e->line);
    }
    if (noted_.left_out > 0)
        out += fmt::format("[{} sent lines and replies are left out]\n", noted_.left_out);
    return out;
}

void console_log::clear() {
    *this = {};
}

}  // namespace cvrig
