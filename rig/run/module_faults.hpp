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

    /// One result "console" whose finding "resets" fails; empty if there was no fault.
    [[nodiscard]] std::optional<check_result> result() const;

private:
    setting_choice first_choice_;
    std::vector<std::string> sentences_;
};

}  // namespace cvrig
