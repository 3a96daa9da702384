#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/link/take.hpp"
#include "rig/run/result.hpp"

namespace cvrig {

/// What the module did during a run that no build may do, whatever its sound is.
class module_faults {
public:
    void add(const take& came_back);

    /// One result "console" whose finding "resets" fails, or is unsure if the module may have
    /// restarted unheard; empty if there was nothing of the kind.
    [[nodiscard]] std::optional<check_result> result(const limit* allowed) const;

private:
    /// Sentences, and the settings of the take of the first.
    struct list {
        setting_choice choice;
        std::vector<std::string> sentences;

        void add(const take& came_back, const std::vector<std::string>& what);
    };

    list faults_;
    list doubts_;
};

}  // namespace cvrig
