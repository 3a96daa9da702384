#pragma once

#include <span>
#include <string>

namespace ferrule {

/// Each takes the words after its own name and returns an exit status; all throw user_mistake.

/// STIMULUS RESPONSE [name=value ...]: plays one take.
int render_command(std::span<const std::string> words);

/// state=PATH [unit=N]: measures 1 V, 2 V and 3 V and keeps the constants.
int calibrate_command(std::span<const std::string> words);

/// [image=PATH] [unit=N]: prints maker, model, serial number and version as *IDN? would answer
/// (IEEE 488.2: four fields with commas between them).
int identify_command(std::span<const std::string> words);

/// [name=value ...]: the module as if it were hardware, on an audio interface and with a console,
/// until it is told to end. 1 if the audio ends first.
int live_command(std::span<const std::string> words);

/// BUILD FIRMWARE: makes the Intel HEX file of a build, or of every build of a folder.
int link_command(std::span<const std::string> words);

/// [image=PATH] [unit=N]: the module's console on standard input and output, until that ends. What
/// it does wrong is in the image.
int console_command(std::span<const std::string> words);

/// Prints every fault that can be injected.
int faults_command(std::span<const std::string> words);

}  // namespace ferrule
