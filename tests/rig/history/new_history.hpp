#pragma once

#include "rig/history/stored_run.hpp"
#include "tests/rig/history/history_place.hpp"
#include "tests/rig/history/store_fixture.hpp"

namespace cvrig::history {

/// A history of its own, empty at first.
struct new_history {
    history_place place;
    std::unique_ptr<database> db{open_history(place.address(), opening::to_write)};

    [[nodiscard]] const std::string& address() const noexcept { return place.address(); }
    stored_run add(const std::string& build, double error_cents = 3.0) {
        const auto filed = file_run_alone(*db, small_run(build, error_cents), keyed(build));
        return *run_of_id(*db, filed.id);
    }
};

}  // namespace cvrig::history
