#include "demo/arguments.hpp"
#include "demo/commands.hpp"
#include "demo/console/instrument.hpp"
#include "demo/console/parameter.hpp"

#include <algorithm>
#include <cmath>
#include <iostream>
#include <utility>

namespace ferrule {
namespace {

/// The module's processor as its console sees it, where no sound is.
class quiet_module {
public:
    explicit quiet_module(const arguments& asked) : asked_{asked} {}

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
        return {plain("*IDN?", [this] { return identity_of(asked_); }),
                plain("*TST?", [] { return std::string{"0"}; }),
                plain("SYSTem:LOAD?", [this] { return load(); }),
                plain("SYSTem:MEMory?", [this] { return memory(); })};
    }

    void count_line() { ++answered_; }
    [[nodiscard]] bool is_mute() const {
        const auto after = asked_.image.console.mute_after;
        return after && answered_ > *after;
    }
    [[nodiscard]] bool starts_again() const {
        const auto after = asked_.image.console.reset_after;
        return after && answered_ == *after;
    }

private:
    arguments asked_;
    int answered_ = 0;
};

}  // namespace

int console_command(std::span<const std::string> words) {
    quiet_module module{parse_arguments(words)};
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
