#pragma once

namespace cvrig {

/// What the terminal (or pipe) that text goes to can do; the caller knows.
struct terminal_style {
    bool colour{false};
    int width{80};  ///< columns; 60 at least are used
    bool utf8{true};
};

}  // namespace cvrig
