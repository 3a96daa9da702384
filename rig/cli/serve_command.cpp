#include <fmt/format.h>
#include <iostream>

#include "rig/cli/history_arguments.hpp"
#include "rig/cli/service_arguments.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/platform/interrupts.hpp"
#include "rig/service/daemon.hpp"

namespace cvrig {

namespace {

std::string history_of(const std::string& option) {
    if (option == "none")
        throw user_error{"A daemon keeps its jobs in the history; name one with --history."};
    auto address = history_address(option);
    if (address.empty())
        throw user_error{"No home folder is known; name a history with --history."};
    return address;
}

}  // namespace

exit_status serve_command(const service::serve_options& asked) {
    auto options = asked;
    options.history = history_of(asked.history);
    options.rig_version = CVRIG_VERSION;
    options.command = fmt::format("cvrig serve {} --bench {}", asked.expectations, asked.bench);
    const interrupts stop;
    service::serve(options, stop.token(),
                   [](const std::string& page) { std::cout << "Page: " << page << std::endl; });
    return exit_status::passed;
}

}  // namespace cvrig
