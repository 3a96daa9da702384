#include "rig/history/sqlite_database.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/history/history_place.hpp"

namespace cvrig::history {

struct history_place::parts {
    temporary_folder folder;
    std::string address{(folder.path() / "deep" / "history.sqlite").string()};
};

history_place::history_place() : parts_{std::make_unique<parts>()} {}
history_place::~history_place() = default;

const std::string& history_place::address() const noexcept {
    return parts_->address;
}

std::unique_ptr<database> history_place::open_as_it_is() const {
    return open_sqlite(parts_->address, opening::to_write);
}

}  // namespace cvrig::history
