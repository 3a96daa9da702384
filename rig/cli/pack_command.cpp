#include <iostream>

#include "rig/cli/commands.hpp"
#include "rig/evidence/pack_run.hpp"
#include "rig/platform/terminal.hpp"
#include "rig/platform/whereabouts.hpp"
#include "rig/report/evidence_text.hpp"

namespace cvrig {

exit_status pack_command(const pack_arguments& a) {
    const auto own = own_whereabouts();
    const auto packed = evidence::pack_run({.run = a.run_folder,
                                            .to = a.file,
                                            .with_image = a.with_image,
                                            .rig_version = CVRIG_VERSION,
                                            .names = {own.people, own.hosts, own.folders}});
    std::cout << evidence_text(packed, output_style());
    return exit_status::passed;
}

}  // namespace cvrig
