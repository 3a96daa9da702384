#include "analysis/hat_basis.hpp"

#include <algorithm>
#include <cstddef>
#include <functional>

#include "analysis/samples.hpp"

namespace cvrig::analysis {

outcome<std::vector<double>> hat_basis(std::span<const double> nodes, std::span<const double> x) {
    if (nodes.size() < 2 || x.empty()) return refuse(refusal::too_short);
    if (!all_finite(nodes) || !all_finite(x)) return refuse(refusal::not_finite);
    if (std::ranges::adjacent_find(nodes, std::greater_equal{}) != nodes.end())
        return refuse(refusal::bad_argument);
    std::vector<double> out(nodes.size() * x.size(), 0.0);
    const auto inner = nodes.subspan(1, nodes.size() - 2);
    for (std::size_t i = 0; i < x.size(); ++i) {
        const auto piece = static_cast<std::size_t>(
            std::distance(inner.begin(), std::ranges::upper_bound(inner, x[i])));
        const double t = (x[i] - nodes[piece]) / (nodes[piece + 1] - nodes[piece]);
        out[i * nodes.size() + piece] = 1.0 - t;
        out[i * nodes.size() + piece + 1] = t;
    }
    return out;
}

}  // namespace cvrig::analysis
