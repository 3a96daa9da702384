#pragma once

#include <string>

#include "rig/link/take.hpp"

namespace cvrig {

/// How a stimulus reaches a module and how its sound comes back.
class link {
public:
    link() = default;
    link(const link&) = delete;
    link& operator=(const link&) = delete;
    virtual ~link() = default;

    /// Plays `s` with the module set to `choice`. A fault of the link gives a take with problems;
    /// throws user_error if nothing could be played at all.
    virtual take play(const stimulus& s, const setting_choice& choice, int number, int attempt) = 0;

    /// Whether no later take can be better than those before, so that retakes are of no use.
    [[nodiscard]] virtual bool is_hopeless() const { return false; }

    /// One phrase for reports.
    [[nodiscard]] virtual std::string description() const = 0;
};

}  // namespace cvrig
