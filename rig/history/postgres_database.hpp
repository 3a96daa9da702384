#pragma once

#include <memory>
#include <string>
#include <string_view>

#include "rig/history/database.hpp"

namespace cvrig::history {

/// Whether an address is one of a PostgreSQL server: postgresql://... or postgres://...
[[nodiscard]] bool is_postgres_address(std::string_view address) noexcept;

/// The same address without the password in it, for sentences.
[[nodiscard]] std::string without_password(const std::string& address);

/// A history in a database of a PostgreSQL server. Transactions that write wait for each other (an
/// advisory lock of the database), as they do in a file, so that none fails because of another.
///
/// Input:   libpq's connection URI (PostgreSQL 15 documentation, section 34.1.1.2); what it leaves open
///          comes from libpq's variables (PGPASSWORD, PGPASSFILE, ...).
/// Refuses: throws store_error, as open_history(), and for a server that does not answer in 10 s.
[[nodiscard]] std::unique_ptr<database> open_postgres(const std::string& address, opening how);

}  // namespace cvrig::history
