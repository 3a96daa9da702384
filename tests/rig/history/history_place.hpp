#pragma once

#include <memory>
#include <string>

#include "rig/history/database.hpp"

namespace cvrig::history {

/// An address at which nothing is yet: a file, or a database of the server that the test was given.
/// Each kind of store links its own.
class history_place {
public:
    history_place();
    history_place(const history_place&) = delete;
    history_place& operator=(const history_place&) = delete;
    ~history_place();

    [[nodiscard]] const std::string& address() const noexcept;
    /// Opened to write, and no schema made or looked at.
    [[nodiscard]] std::unique_ptr<database> open_as_it_is() const;

private:
    struct parts;
    std::unique_ptr<parts> parts_;
};

}  // namespace cvrig::history
