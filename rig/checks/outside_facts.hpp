#pragma once

#include <cstddef>
#include <optional>
#include <string>
#include <vector>

#include "analysis/units.hpp"

namespace cvrig {

/// The firmware file as it was given.
struct image_facts {
    std::string name;  ///< without its folder
    std::string sha256;
    std::vector<std::byte> bytes;
};

/// One question to the console that was answered, or not.
struct console_answer {
    std::string asked;
    seconds at{0.0};    ///< since the first question
    seconds took{0.0};  ///< until the answer, with every repetition
};

/// A number that the console told, in per cent or bytes.
struct console_number {
    seconds at{0.0};
    double told{0.0};
    double digit{1.0};  ///< what the last digit is worth
};

/// What the module's console said over a run, and how fast.
struct console_facts {
    std::string identity_question;
    std::string identity;  ///< the reply; empty if there was none
    std::string version;   ///< as the identity says it; empty if it does not
    std::vector<console_answer> answers;
    std::vector<console_number> load;    ///< per cent
    std::vector<console_number> memory;  ///< free bytes
    std::string silence;                 ///< one sentence: where it stopped answering
    std::string trouble;                 ///< one sentence: why else something was not read
    std::vector<std::string> resets;     ///< as in console_record
    std::vector<std::string> doubts;
};

/// What is known of a build beside its sound, or why it is not known.
struct outside_facts {
    std::optional<image_facts> image{};
    std::string no_image{"No firmware file was given; give it with --image."};
    std::optional<console_facts> console{};
    std::string no_console{"This bench has no console; add 'console' to the bench file."};
    std::string build_name{};  ///< as the run was told; may be empty
};

}  // namespace cvrig
