#include "analysis/best_repeat.hpp"

#include <algorithm>
#include <cmath>

namespace cvrig::analysis {
namespace {

constexpr std::size_t apart = 3;  // samples that are compared: a pitch has many more in a period

}  // namespace

std::optional<std::size_t> best_repeat(std::span<const double> volts,
                                       const repeat_request& request) {
    if (request.last <= request.first || request.last > volts.size() || request.shortest == 0)
        return std::nullopt;
    const bool before = request.where == repeats::before;
    const auto stretch = volts.subspan(request.first, request.last - request.first);
    const std::size_t room = before ? request.first : volts.size() - request.last;
    std::optional<std::size_t> best;
    double least = INFINITY;
    for (std::size_t lag = request.shortest; lag <= std::min(request.longest, room); ++lag) {
        const auto other = volts.subspan(before ? request.first - lag : request.first + lag);
        double sum = 0.0;
        for (std::size_t i = 0; i < stretch.size() && sum < least; i += apart)
            sum += (stretch[i] - other[i]) * (stretch[i] - other[i]);
        if (sum < least) {
            least = sum;
            best = lag;
        }
    }
    return best;
}

}  // namespace cvrig::analysis
