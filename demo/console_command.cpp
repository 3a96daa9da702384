#include "demo/arguments.hpp"
#include "demo/commands.hpp"
#include "demo/console/calibration_commands.hpp"
#include "demo/console/instrument.hpp"
#include "demo/console/parameter.hpp"
#include "demo/flash.hpp"

#include <algorithm>
#include <array>
#include <cmath>
#include <iostream>
#include <utility>

namespace ferrule {
namespace {

/// The module's processor as its console sees it, where no sound is: of its jacks, the one for the
/// pitch is there, and holds what a line says.
class quiet_module {
public:
    explicit quiet_module(std::vector<std::string> words)
        : words_{std::move(words)}, asked_{parse_arguments(words_)}, noise_{asked_.seed} {}

    [[nodiscard]] std::string banner() const {
        return "Ferrule " + asked_.image.version + " ready";
    }

    /// What is left of 128 KiB beside the voice's own 66.
    [[nodiscard]] std::string memory() const {
        constexpr double free_bytes = 62.0 * 1024.0;
        const double lost = asked_.image.console.leak_bytes * static_cast<double>(answered_);
        return std::to_string(std::lround(std::max(0.0, free_bytes - lost)));
    }

    /// The load trembles, as it does where interrupts fall where they may.
    [[nodiscard]] std::string load() const {
        const double tremble = 0.1 * (static_cast<double>(answered_ * 7 % 11) - 5.0);
        return number_answer(std::round((asked_.image.console.load_percent + tremble) * 10.0) /
                             10.0);
    }

    [[nodiscard]] std::vector<command> commands() {
        const auto plain = [](const std::string& pattern, std::function<std::string()> act) {
            return command{pattern, 0, 0, [act = std::move(act)](const auto&) { return act(); }};
        };
        std::vector<command> all{plain("*IDN?", [this] { return identity_of(asked_); }),
                                 plain("*TST?", [] { return std::string{"0"}; }),
                                 plain("*RST", [this] { return reset_settings(); }),
                                 plain("SYSTem:LOAD?", [this] { return load(); }),
                                 plain("SYSTem:MEMory?", [this] { return memory(); }),
                                 plain("SYSTem:REBoot", [this] { return wish_to_start(); })};
        all.push_back({"SYSTem:FLASh", 0, 2, [this](const auto&) { return wish_to_start(); }});
        all.push_back({"DIAGnostic:JACK", 2, 2, [this](const auto& given) {
                           plug(given[0], number_parameter(given[1], -12.0, 12.0));
                           return std::string{};
                       }});
        add_calibration_commands(all, calibrating_, as_calibrated());
        return all;
    }

    void count_line() { ++answered_; }
    [[nodiscard]] bool is_mute() const {
        const auto after = asked_.image.console.mute_after;
        return after && answered_ > *after;
    }
    /// Whether the firmware starts again now; reads flash and image as at every start.
    [[nodiscard]] bool starts_again() {
        const auto after = asked_.image.console.reset_after;
        const bool by_itself = after && answered_ == *after;
        if (!std::exchange(wants_start_, false) && !by_itself) return false;
        calibrating_.abandon();
        asked_ = parse_arguments(words_);
        return true;
    }

private:
    std::string wish_to_start() {
        wants_start_ = true;
        return {};
    }

    void plug(const std::string& jack, double volts) {
        constexpr std::array<std::string_view, 6> jacks{"PITCh", "GATE",   "ACCent",
                                                        "SLIDe", "CUToff", "DECay"};
        if (word_parameter(jack, jacks) == 0) pitch_volts_ = volts;
    }

    /// As long as a press of the button lasts.
    double pitch_code() {
        const converter input{make_specimen(asked_.unit).pitch};
        double sum = 0.0;
        for (int i = 0; i < readings_per_press; ++i) sum += input.read(pitch_volts_, noise_);
        return sum / readings_per_press;
    }

    void use(const calibration& constants) {
        asked_.stored = constants;
        if (asked_.image.calibration.forgets || asked_.state.empty()) return;
        auto kept = read_flash(asked_.state);
        kept.stored = constants;
        write_flash(asked_.state, kept);
    }

    std::string reset_settings() {
        if (asked_.image.calibration.reset_wipes) use(factory_calibration());
        return {};
    }

    calibrated_module as_calibrated() {
        return {
            .pitch_code = [this] { return pitch_code(); },
            .constants = [this] { return asked_.stored; },
            .use = [this](const calibration& constants) { use(constants); },
            .mute = [](bool) {},
            .habits = [this]() -> const calibration_habits& { return asked_.image.calibration; }};
    }

    static constexpr int readings_per_press = 4096;

    std::vector<std::string> words_;
    arguments asked_;
    noise_source noise_;
    calibration_mode calibrating_;
    double pitch_volts_ = 0.0;
    bool wants_start_ = false;
    int answered_ = 0;
};

}  // namespace

int console_command(std::span<const std::string> words) {
    quiet_module module{{words.begin(), words.end()}};
    instrument speaks{module.commands()};
    std::cout << module.banner() << std::endl;
    std::string line;
    while (std::getline(std::cin, line)) {
        const auto answer = speaks.obey(line);
        module.count_line();
        if (module.is_mute()) continue;
        if (!answer.empty()) std::cout << answer << std::endl;
        if (module.starts_again()) {
            speaks.power_on();
            std::cout << module.banner() << std::endl;
        }
    }
    return 0;
}

}  // namespace ferrule
