#include <fmt/format.h>
#include <iostream>

#include "rig/bench/wiring.hpp"
#include "rig/checks/check.hpp"
#include "rig/cli/commands.hpp"
#include "rig/console/fill_in.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/report/wiring_svg.hpp"
#include "rig/report/wiring_text.hpp"

namespace cvrig {

exit_status wiring_command(const wiring_arguments& a) {
    const auto m = read_expectations(a.expectations, all_specs());
    auto b = read_bench(a.bench);
    const bool is_wired = b.console && b.console->how != console_settings::way::program;
    if (is_wired && !a.with.empty()) b.console = filled_in(*b.console, a.with);
    const auto card = wiring_of(b, m);
    std::cout << wiring_text(card, output_style());
    if (!a.html.empty()) {
        write_file_atomically(a.html, wiring_page(card));
        std::cout << fmt::format("\nPicture: {}\n", a.html);
    }
    return exit_status::passed;
}

}  // namespace cvrig
