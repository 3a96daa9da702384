#include "rig/flash/git_description.hpp"

#include <vector>

#include "rig/expectations/wording.hpp"
#include "rig/platform/process.hpp"

namespace cvrig {

std::string git_description(const std::filesystem::path& folder) {
    const std::vector<std::string> command{"git", "describe", "--always", "--dirty", "--tags"};
    const auto r = run_process(command, {.time_limit = seconds{20.0}, .folder = folder});
    const bool is_known = r.how == process_result::ending::exited && r.status == 0;
    return is_known ? squeezed(r.out.text) : std::string{};
}

}  // namespace cvrig
