#include "rig/platform/cpu_time.hpp"

#include <ctime>

namespace cvrig {

seconds thread_cpu_time() noexcept {
    timespec t{};
    clock_gettime(CLOCK_THREAD_CPUTIME_ID, &t);
    return seconds{static_cast<double>(t.tv_sec) + 1e-9 * static_cast<double>(t.tv_nsec)};
}

}  // namespace cvrig
