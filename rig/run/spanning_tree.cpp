#include "rig/run/spanning_tree.hpp"

#include <limits>

namespace cvrig {

spanning_tree::spanning_tree(std::span<const positions> points, std::size_t root)
    : root_{root}, children_(points.size()) {
    const std::size_t n = points.size();
    std::vector<int> distance(n, std::numeric_limits<int>::max());
    std::vector<std::size_t> parent(n, root);
    std::vector<bool> inside(n, false);
    std::size_t added = root;
    inside[root] = true;
    for (std::size_t count = 1; count < n; ++count) {
        std::size_t nearest = n;
        for (std::size_t v = 0; v < n; ++v) {
            if (inside[v]) continue;
            if (const int d = changes(points[added], points[v]); d < distance[v]) {
                distance[v] = d;
                parent[v] = added;
            }
            if (nearest == n || distance[v] < distance[nearest]) nearest = v;
        }
        inside[nearest] = true;
        children_[parent[nearest]].push_back(nearest);
        weight_ += distance[nearest];
        added = nearest;
    }
}

std::vector<std::size_t> spanning_tree::walk() const {
    std::vector<std::size_t> met;
    std::vector<std::size_t> waiting{root_};
    while (!waiting.empty()) {
        const auto v = waiting.back();
        waiting.pop_back();
        met.push_back(v);
        waiting.insert(waiting.end(), children_[v].rbegin(), children_[v].rend());
    }
    return met;
}

}  // namespace cvrig
