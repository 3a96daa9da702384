#pragma once

#include <ostream>
#include <string>

#include "analysis/units.hpp"
#include "rig/report/ink.hpp"

namespace cvrig {

/// How far a run is.
struct run_progress {
    int take{0};  ///< the one that plays, from 1
    int takes{0};
    seconds left{0.0};
    seconds whole{0.0};  ///< all takes; sets the bar
    std::string plays;   ///< "tracking, mode tied"
};

/// One line that is drawn over and over on a terminal, and gone when it is cleared or destroyed.
/// Where the caller says that there is no terminal, nothing is ever written.
class progress_line {
public:
    progress_line(std::ostream& out, const terminal_style& style, bool is_terminal);
    progress_line(const progress_line&) = delete;
    progress_line& operator=(const progress_line&) = delete;
    ~progress_line();

    void show(const run_progress& now);
    /// Takes the line away, so that other text may be printed.
    void clear();

private:
    std::ostream* out_;
    report::ink pen_;
    bool is_terminal_;
    bool drawn_{false};
};

}  // namespace cvrig
