#pragma once

#include <cstdint>
#include <initializer_list>
#include <memory>
#include <optional>
#include <span>
#include <string>
#include <string_view>
#include <variant>
#include <vector>

#include "rig/expectations/user_error.hpp"

namespace cvrig::history {

/// The history cannot be opened, read or written: which one, why, what to do, in one sentence.
class store_error : public user_error {
public:
    using user_error::user_error;
};

/// The history can be read, and holds nothing of that name.
class nothing_found : public store_error {
public:
    using store_error::store_error;
};

/// A value in a cell; nothing for NULL.
using sql_value = std::variant<std::monostate, std::int64_t, double, std::string>;

/// Nothing where there is no number (or one that is not finite, which no database keeps alike).
[[nodiscard]] sql_value number_or_null(std::optional<double> x);
/// NULL for the empty text.
[[nodiscard]] sql_value text_or_null(std::string text);

/// One row of an answer.
class sql_row {
public:
    explicit sql_row(std::vector<sql_value> cells) : cells_{std::move(cells)} {}

    [[nodiscard]] bool is_null(std::size_t column) const;
    /// A whole number; 0 for NULL.
    [[nodiscard]] std::int64_t whole(std::size_t column) const;
    /// A number; nothing for NULL.
    [[nodiscard]] std::optional<double> number(std::size_t column) const;
    /// A text; empty for NULL.
    [[nodiscard]] std::string text(std::size_t column) const;

private:
    std::vector<sql_value> cells_;
};

using sql_rows = std::vector<sql_row>;
using sql_values = std::vector<sql_value>;

/// One connection to where the history is kept.
///
/// SQL is the part that SQLite and PostgreSQL share; parameters are written $1, $2, ... and appear in
/// this order for the first time. Every call throws store_error for what the store refuses.
class database {
public:
    database() = default;
    database(const database&) = delete;
    database& operator=(const database&) = delete;
    virtual ~database() = default;

    virtual sql_rows query(const std::string& sql, const sql_values& parameters) = 0;
    sql_rows query(const std::string& sql) { return query(sql, {}); }
    void execute(const std::string& sql, const sql_values& parameters = {}) {
        static_cast<void>(query(sql, parameters));
    }

    virtual void begin() = 0;  ///< a transaction that may write; waits for other writers
    virtual void commit() = 0;
    virtual void roll_back() noexcept = 0;

    /// How a column is declared that numbers rows by itself, from 1 and never again the same.
    [[nodiscard]] virtual std::string_view id_column() const noexcept = 0;
    /// Whether a table of that name is there.
    [[nodiscard]] virtual bool has_table(const std::string& name) = 0;
    /// Where it is, for sentences: a file's path, or a server's address without its password.
    [[nodiscard]] virtual const std::string& address() const noexcept = 0;
};

/// All or nothing: what was written while it lives is undone unless commit() was called.
class transaction {
public:
    explicit transaction(database& in) : in_{&in} { in.begin(); }
    transaction(const transaction&) = delete;
    transaction& operator=(const transaction&) = delete;
    ~transaction() {
        if (in_ != nullptr) in_->roll_back();
    }
    void commit() {
        in_->commit();
        in_ = nullptr;
    }

private:
    database* in_;
};

enum class opening { to_read, to_write };

/// Whether an address is a server's, whose history several machines may share.
[[nodiscard]] bool is_server(std::string_view address) noexcept;

/// Opens a history and brings its schema up to date (migrate()).
///
/// Input:   `address` is a file's path, or postgresql://USER@HOST/DATABASE (libpq's connection URI).
///          To write, a file and its folder are made where there is none.
/// Refuses: throws store_error for what cannot be opened, is no history, or is of a newer cvrig.
[[nodiscard]] std::unique_ptr<database> open_history(const std::string& address, opening how);

}  // namespace cvrig::history
