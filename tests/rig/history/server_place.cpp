#include <fmt/format.h>

#include <cstdlib>
#include <stdexcept>

#include "rig/history/postgres_database.hpp"
#include "tests/rig/history/history_place.hpp"

namespace cvrig::history {

namespace {

/// As tests/rig/history/with_postgres says it: postgresql:///postgres?host=...
std::string server_address() {
    const char* text = std::getenv("CVRIG_TEST_POSTGRES");
    if (text == nullptr)
        throw std::runtime_error{"run this test by tests/rig/history/with_postgres"};
    return text;
}

int next_number() {
    static int number = 0;
    return ++number;
}

}  // namespace

struct history_place::parts {
    std::string name{fmt::format("history_{}", next_number())};
    std::string address{server_address()};
};

history_place::history_place() : parts_{std::make_unique<parts>()} {
    open_postgres(parts_->address, opening::to_write)->execute("CREATE DATABASE " + parts_->name);
    const std::string first = "/postgres?";
    parts_->address.replace(parts_->address.find(first), first.size(), "/" + parts_->name + "?");
}

history_place::~history_place() = default;

const std::string& history_place::address() const noexcept {
    return parts_->address;
}

std::unique_ptr<database> history_place::open_as_it_is() const {
    return open_postgres(parts_->address, opening::to_write);
}

}  // namespace cvrig::history
