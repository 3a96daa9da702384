#include "rig/history/database.hpp"

#include <cassert>
#include <cmath>
#include <utility>

namespace cvrig::history {

sql_value number_or_null(std::optional<double> x) {
    if (!x || !std::isfinite(*x)) return std::monostate{};
    return *x;
}

sql_value text_or_null(std::string text) {
    if (text.empty()) return std::monostate{};
    return text;
}

bool sql_row::is_null(std::size_t column) const {
    assert(column < cells_.size());
    return std::holds_alternative<std::monostate>(cells_[column]);
}

std::int64_t sql_row::whole(std::size_t column) const {
    assert(column < cells_.size());
    if (const auto* n = std::get_if<std::int64_t>(&cells_[column])) return *n;
    if (const auto* x = std::get_if<double>(&cells_[column])) return std::llround(*x);
    return 0;
}

std::optional<double> sql_row::number(std::size_t column) const {
    assert(column < cells_.size());
    if (const auto* x = std::get_if<double>(&cells_[column])) return *x;
    if (const auto* n = std::get_if<std::int64_t>(&cells_[column])) return static_cast<double>(*n);
    return std::nullopt;
}

std::string sql_row::text(std::size_t column) const {
    assert(column < cells_.size());
    if (const auto* t = std::get_if<std::string>(&cells_[column])) return *t;
    return {};
}

}  // namespace cvrig::history
