#pragma once

#include <array>
#include <deque>
#include <string>
#include <vector>

#include "demo/arguments.hpp"
#include "rig/link/interface.hpp"

namespace cvrig::testing {

inline constexpr std::size_t desk_jacks = 5;  ///< pitch, gate, accent, slide, cutoff

/// Cables between the five outputs of a desk and the five jacks, and back.
struct cabling {
    /// gain[output][jack]: 1 for a cable, 0 for none; what arrives at a jack is the sum.
    std::array<std::array<double, desk_jacks>, desk_jacks> gain{};
    /// back[input][output of the module]
    std::array<std::array<double, 2>, 2> back{{{1.0, 0.0}, {0.0, 1.0}}};

    /// jack_of[output]: a permutation.
    static cabling permuted(const std::array<std::size_t, desk_jacks>& jack_of) {
        cabling c;
        for (std::size_t i = 0; i < desk_jacks; ++i) c.gain[i][jack_of[i]] = 1.0;
        return c;
    }
    static cabling straight() { return permuted({0, 1, 2, 3, 4}); }
};

/// The demo module in this process behind an interface in memory, with cables that may be wrong.
class ferrule_desk : public audio_interface {
public:
    /// `words`: arguments of the demo module, such as "unit=3", "mode=wide".
    ferrule_desk(const std::vector<std::string>& words, const cabling& cables);

    volts_in exchange(const volts_out& out, seconds tail, std::stop_token stop) override;
    void hold(std::span<const volts> outputs) override;
    [[nodiscard]] sample_rate rate() const override { return sample_rate{48000.0}; }
    [[nodiscard]] std::string description() const override { return "Ferrule in this process"; }

    /// "ROUTe left", "ROUTe right", "ROUTe all".
    bool tell(const std::string& line);

    [[nodiscard]] float highest_at(std::size_t jack) const { return highest_[jack]; }

    std::size_t latency_samples{700};
    int broken_exchanges{0};  ///< so many of the next report a lost sample

private:
    std::array<float, 2> one_frame(const std::array<float, desk_jacks>& sent);

    cabling cables_;
    ferrule::host host_;
    std::array<float, desk_jacks> held_{};
    std::array<float, desk_jacks> highest_{};
    std::deque<std::array<float, 2>> on_the_way_;
    std::array<float, 2> audible_{1.0F, 1.0F};
    ferrule::noise_source noise_{5};
};

}  // namespace cvrig::testing
