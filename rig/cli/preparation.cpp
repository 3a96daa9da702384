#include "rig/cli/preparation.hpp"

#include <spdlog/spdlog.h>

#include <filesystem>
#include <iostream>

#include "rig/cli/session.hpp"

namespace cvrig {

namespace {

std::string doing(const std::string& step, const std::string& command) {
    if (step == "proof") return "Waiting for the module's console.";
    return (step == "build" ? "Building: " : "Flashing: ") + command;
}

}  // namespace

preparing preparing_for(const run_arguments& a, const bench& b, const module_expectations& m,
                        const interrupts& stop, spdlog::logger* log) {
    preparing p{.desk = b,
                .module = m,
                .image = a.image,
                .names = names_of(a),
                .search_folders = {a.program_folders.begin(), a.program_folders.end()},
                .stop = stop.token(),
                .begins = {},
                .ended = {}};
    p.begins = [log, quiet = a.quiet](const std::string& step, const std::string& command) {
        const auto now = doing(step, command);
        if (log != nullptr) log->info("{}", now);
        if (!quiet) std::cerr << now << std::endl;
    };
    if (log != nullptr)
        p.ended = [log](const preparation_step& step) {
            log->info("{} ended well after {:.3f} s and said: {}", step.step, step.took.value(),
                      step.output);
        };
    return p;
}

}  // namespace cvrig
