#include "rig/cli/exit_status.hpp"

namespace cvrig {

exit_status status_of(const run_result& result, bool bisect) noexcept {
    switch (result.outcome()) {
        case verdict::fail:
            return exit_status::failed;
        case verdict::pass:
            if (result.count(verdict::pass) > 0) return exit_status::passed;
            break;
        case verdict::unsure:
        case verdict::skipped:
            break;
    }
    return bisect ? exit_status::bisect_skip : exit_status::undecided;
}

}  // namespace cvrig
