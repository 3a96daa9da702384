#include "rig/expectations/complaint_list.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <tuple>
#include <utility>

namespace cvrig {

void complaint_list::add(place where, std::string sentence) {
    if (!full()) {
        complaints_.push_back({std::move(where), std::move(sentence)});
    } else {
        ++untold_;
    }
}

void complaint_list::raise() const {
    if (complaints_.empty()) return;
    auto sorted = complaints_;
    std::stable_sort(sorted.begin(), sorted.end(), [](const complaint& a, const complaint& b) {
        return std::tie(a.where.line, a.where.column) < std::tie(b.where.line, b.where.column);
    });
    if (untold_ > 0) {
        sorted.push_back({place{sorted.front().where.file, 0, 0},
                          fmt::format("{} more complaints are not shown.", untold_)});
    }
    throw user_error{std::move(sorted)};
}

}  // namespace cvrig
