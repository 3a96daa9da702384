#pragma once

#include "demo/block.hpp"
#include "demo/calibration.hpp"
#include "demo/cutoff_control.hpp"
#include "demo/faults.hpp"
#include "demo/gate_reader.hpp"
#include "demo/output_stage.hpp"
#include "demo/settings.hpp"
#include "demo/specimen.hpp"
#include "demo/voice.hpp"

#include <array>
#include <cstddef>
#include <cstdint>

namespace ferrule {

/// Everything that decides how a module behaves.
struct module_plan {
    specimen unit = make_specimen(1);
    calibration stored = factory_calibration();
    settings set;
    fault_set faults;
    double rate_hertz = 48000.0;
    std::uint64_t seed = 1;
};

/// The module from jack to jack: converters, firmware and output stages, one block at a time.
class module_under_test {
public:
    explicit module_under_test(const module_plan& plan) noexcept;

    /// Switches, knobs and constants can be changed between blocks; knobs take up to 10 ms.
    void set(const settings& to) noexcept;
    void set(const calibration& stored) noexcept {
        stored_ = stored;
        voice_.set(stored);
    }

    /// What the converter of the pitch jack read in the last block, as a mean of its codes.
    [[nodiscard]] double pitch_code() const noexcept { return pitch_code_; }

    /// What the outputs do during the block that begins now, then what the jacks did during it.
    /// What is recorded in one block is computed in the next and played in the one after.
    void play(output_block& out) noexcept;
    void record(const input_block& in) noexcept;

private:
    [[nodiscard]] readings read_jacks(const input_block& in) noexcept;
    [[nodiscard]] bool slide_read(bool jack_high) noexcept;
    [[nodiscard]] bool starts_again() noexcept;
    [[nodiscard]] bool happens(fault which) noexcept;
    [[nodiscard]] double cutoff_volts(double jack) noexcept;
    [[nodiscard]] double decay_volts(double jack) noexcept;

    static constexpr std::size_t remembered_blocks = 1024;

    settings set_;
    calibration stored_;
    fault_set faults_;
    double believed_rate_hertz_;
    double block_seconds_;
    double on_seconds_ = 0.0;
    double silent_seconds_ = 0.0;
    bool was_reset_ = false;
    std::array<bool, remembered_blocks> slide_history_{};
    std::size_t slide_at_ = 0;
    double cutoff_knob_;
    double decay_knob_;
    double pitch_code_ = 0.0;
    noise_source noise_;
    noise_source trouble_;
    converter pitch_;
    converter cutoff_;
    converter decay_;
    gate_reader gate_;
    cutoff_control cutoff_control_;
    trigger accent_;
    trigger slide_;
    voice voice_;
    output_stage outputs_;
    std::array<double, block_frames> pitch_jack_volts_{};
    /// The block being computed and the block being played.
    std::array<std::array<double, block_frames>, 2> waiting_{};
    std::size_t at_ = 0;
};

}  // namespace ferrule
