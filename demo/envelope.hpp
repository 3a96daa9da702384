#pragma once

#include <algorithm>
#include <cmath>

namespace ferrule {

/// Attack in a straight line, decay as an exponential; the gate can end it sooner.
///
/// A strike starts from wherever the envelope is, so striking again in mid-decay does not click,
/// and takes the attack time whatever the distance.
class envelope {
public:
    static constexpr double attack_seconds = 0.003;

    void strike(double peak, double attack_samples) noexcept {
        left_ = std::max(1, static_cast<int>(std::lround(attack_samples)));
        step_ = (peak - level_) / left_;
    }

    /// One sample further; `fall` is what remains of the level after a sample of decay.
    double next(double fall) noexcept {
        if (left_ > 0) {
            level_ += step_;
            --left_;
        } else {
            level_ *= fall;
        }
        return level_;
    }

    /// Ends an attack, so that the decay or release begins here.
    void let_go() noexcept { left_ = 0; }

    /// Falls at once to this share of the level.
    void drop_to(double share) noexcept { level_ *= share; }

    [[nodiscard]] double level() const noexcept { return level_; }

private:
    double level_ = 0.0;
    double step_ = 0.0;
    int left_ = 0;
};

}  // namespace ferrule
