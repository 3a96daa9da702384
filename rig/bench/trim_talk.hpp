#pragma once

#include <istream>
#include <ostream>
#include <stop_token>
#include <string>

#include "rig/bench/bench.hpp"
#include "rig/bench/trim.hpp"

namespace cvrig {

/// What is said and asked while channels are trimmed: a line each way.
class trim_talk {
public:
    enum class told { words, repeat, skip };
    struct answer {
        told what{told::words};
        std::string text;
    };

    trim_talk(std::istream& in, std::ostream& out, std::stop_token stop)
        : in_{in}, out_{out}, stop_{std::move(stop)} {}

    void say(const std::string& text) { out_ << text << '\n' << std::flush; }
    /// Throws user_error when the person ends it ("a"), at the end of the input, or when stopped.
    [[nodiscard]] answer ask(const std::string& question);

    void cautions();
    /// Whether the module is plugged in; says what it means if not.
    [[nodiscard]] bool ask_for_module();
    /// Asks until there is a voltage that is not far from the wanted one, or is confirmed.
    [[nodiscard]] answer ask_meter(const bench_output& o, volts wanted, volts& read);
    /// Whether an odd channel is taken as it is; else it is measured again, where it can be skipped.
    [[nodiscard]] bool is_kept();
    /// What a channel was found to be, and what is odd about it.
    void report(const std::string& where, const trim_fit& fit, const channel_trim& before);

private:
    std::istream& in_;
    std::ostream& out_;
    std::stop_token stop_;
};

}  // namespace cvrig
