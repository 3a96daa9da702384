#pragma once

#include <chrono>
#include <string>
#include <vector>

#include "rig/checks/outside_facts.hpp"
#include "rig/console/console.hpp"

namespace cvrig {

/// Asks a module's console, at the start of a run and between its takes, what the check "console"
/// judges. Once a question has stayed without any answer, nothing more is asked: a console that has
/// fallen silent costs one time limit, not one for each take.
class console_watch {
public:
    using clock = std::chrono::steady_clock;

    /// Both must outlive the watch.
    console_watch(console& talks, const console_rules& rules) : talks_{talks}, rules_{rules} {}

    /// Who are you? Then as look().
    void begin();
    /// Load and memory, as far as the rules say how to ask for them.
    void look();
    /// What was found; restarts since the console's last mark go with it.
    [[nodiscard]] console_facts finish();

private:
    [[nodiscard]] console_reply ask(const dialogue_line& line);
    void ask_number(const std::optional<dialogue_line>& line, dimension unit,
                    std::vector<console_number>& into);
    [[nodiscard]] seconds since_begin() const;

    console& talks_;
    const console_rules& rules_;
    clock::time_point begin_{clock::now()};
    bool gave_up_{false};
    console_facts facts_;
};

/// The number in a captured text, in the base unit: "41.5" (then in per cent or bytes, as `unit`
/// says), "12 KiB". The last digit's worth goes with it. Empty if it is none.
[[nodiscard]] std::optional<console_number> told_number(const std::string& text, dimension unit);

/// The version in a reply to the question for the identity: the first group that the rules capture,
/// else the fourth of four fields, as in IEEE 488.2-1992, 10.14. Empty if there is neither.
[[nodiscard]] std::string version_of(const console_reply& reply);

}  // namespace cvrig
