#pragma once

#include <cstddef>
#include <memory>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/console_settings.hpp"
#include "rig/expectations/expectations.hpp"

namespace cvrig {

/// What became of a line that was sent.
struct console_reply {
    bool ok{false};
    std::string line;                   ///< the line that matched, or the last that did not
    std::vector<std::string> captures;  ///< of the expression, without the whole match
    std::string problem;                ///< one sentence if not ok
    bool is_silence{false};             ///< not ok: the port was there, and nothing was answered
};

/// What the console said since the last mark.
struct console_record {
    std::string log;                    ///< "+12.345 s < line" one a line, sent lines with ">"
    std::vector<std::string> resets;    ///< one sentence for each boot banner that nobody asked for
    std::vector<std::string> doubts;    ///< why a restart may have gone unseen, one sentence each
    std::vector<std::string> problems;  ///< the port vanished, lines were left out, ...
};

/// The module's console: everything received is logged with its time, whoever asked for it.
///
/// A port that vanishes is closed at once and looked for until it is back. No call blocks longer
/// than its time limits, however the other side behaves: ask() takes at most the return time, and
/// for each try twice the time limit (to send, and for the reply).
class console {
public:
    console() = default;
    console(const console&) = delete;
    console& operator=(const console&) = delete;
    virtual ~console() = default;

    /// Sends a line and waits for its reply, again as often as the rules allow if there is none. A
    /// reply is the first line that matches, whatever comes before it.
    virtual console_reply ask(const dialogue_line& line) = 0;

    /// From now on times are counted from here, and record() forgets what came before.
    virtual void mark() = 0;
    [[nodiscard]] virtual console_record record() = 0;

    /// Both in one step, so that nothing falls between them.
    virtual console_record cut() {
        auto r = record();
        mark();
        return r;
    }

    /// How often the module has restarted or its console has come back since it was opened, asked
    /// for or not: whatever was set before is then unknown.
    [[nodiscard]] virtual std::size_t restarts() const { return 0; }

    /// The next boot banner is expected (the rig caused it), and so is the console's going away.
    virtual void expect_reset() = 0;

    [[nodiscard]] virtual std::string description() const = 0;
};

/// Opens the console of a bench, whose names are filled in (rig/console/fill_in.hpp). Opening some
/// ports restarts the module, so a banner before its first reply is no surprise. Throws user_error
/// with the place in the bench file if that cannot work (no such port, not permitted).
[[nodiscard]] std::unique_ptr<console> open_console(const console_settings& how,
                                                    const console_rules& rules,
                                                    std::stop_token stop);

}  // namespace cvrig
