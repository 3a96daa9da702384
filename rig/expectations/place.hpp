#pragma once

#include <string>

namespace cvrig {

/// Where something stands in a file a user wrote. Line and column count from 1; 0 means unknown.
struct place {
    std::string file;
    int line{0};
    int column{0};

    /// "file:line:column", or just the file when the line is unknown.
    [[nodiscard]] std::string text() const;

    friend bool operator==(const place&, const place&) = default;
};

}  // namespace cvrig
