#pragma once

#include <filesystem>
#include <map>
#include <stop_token>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"
#include "rig/link/link.hpp"

namespace cvrig {

/// What a program link needs beside its bench file.
struct program_link_options {
    std::vector<std::string> recorded;                  ///< heard jacks, in channel order
    std::map<std::string, std::string> substitutions;   ///< for {name} in the command
    std::filesystem::path working_folder;               ///< for the takes; must exist
    std::vector<std::filesystem::path> search_folders;  ///< before PATH
    bool keep_takes{false};  ///< leave stimulus.wav and response.wav of each take
    std::stop_token stop{};
};

/// One phrase for reports: "program ferrule render, 48 kHz".
[[nodiscard]] std::string in_words(const program_link_settings& link);

/// Plays the stimulus into a program, usually the module's DSP built for the host.
///
/// The command is run once a take. {stimulus} and {response} become the names of multi-channel
/// 32-bit-float WAV files in which 1.0 is 1 V; an argument that is just {settings} becomes one
/// name=value argument for each setting; {name} becomes what the options say for it. An argument
/// that names a file beside the bench file means that file.
class program_link : public link {
public:
    /// Throws user_error for a command that cannot work: unknown or missing placeholders, no such
    /// program.
    program_link(program_link_settings settings, program_link_options options);

    take play(const stimulus& s, const setting_choice& choice, int number, int attempt) override;
    [[nodiscard]] std::string description() const override;

private:
    void run(const std::filesystem::path& folder, take& t) const;

    program_link_settings settings_;
    program_link_options options_;
};

}  // namespace cvrig
