#include "rig/history/database.hpp"
#include "rig/history/postgres_database.hpp"
#include "rig/history/schema.hpp"
#include "rig/history/sqlite_database.hpp"

namespace cvrig::history {

bool is_server(std::string_view address) noexcept {
    return is_postgres_address(address);
}

std::unique_ptr<database> open_history(const std::string& address, opening how) {
    auto db =
        is_postgres_address(address) ? open_postgres(address, how) : open_sqlite(address, how);
    migrate(*db);
    return db;
}

}  // namespace cvrig::history
