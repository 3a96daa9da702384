#pragma once

#include <filesystem>
#include <map>
#include <string>

#include "rig/link/link.hpp"

namespace cvrig {

/// Writes one take under `folder`/takes: what was sent and heard as WAV (1.0 = 1 V), problems and
/// log as JSON. Throws user_error if it cannot be written.
void keep_take(const std::filesystem::path& folder, const take& came_back);

/// A link that plays nothing: it hands out the takes that keep_take() stored, if they are of the
/// same stimulus. A take's description may allow for a stimulus that was rounded when it was packed
/// (`sent_within_volts`). One that differs makes play() throw user_error: other limits can be judged
/// on kept takes, other notes cannot. A take that was not stored (a further retake) comes back with
/// a problem.
class kept_link : public link {
public:
    explicit kept_link(std::filesystem::path folder);

    take play(const stimulus& sent, const setting_choice& choice, int number, int attempt) override;
    [[nodiscard]] std::string description() const override;

private:
    std::filesystem::path folder_;
};

}  // namespace cvrig
