#include "rig/run/fewest_changes.hpp"

#include <algorithm>
#include <cstdint>
#include <limits>
#include <map>
#include <numeric>
#include <set>

#include "rig/run/spanning_tree.hpp"
#include "rig/run/way.hpp"

namespace cvrig {

namespace {

using order = std::vector<std::size_t>;

/// The changes to the first point; nothing is known of the start unless it is given.
int first_changes(const std::optional<positions>& start, const positions& p) noexcept {
    return start ? changes(*start, p) : 0;
}

/// shortest[set * n + v]: the changes of the best way that begins at v and visits the set.
std::vector<std::uint16_t> shortest_ways(std::span<const positions> points) {
    const std::size_t n = points.size();
    const std::size_t sets = std::size_t{1} << n;
    std::vector<std::uint16_t> shortest(sets * n, std::numeric_limits<std::uint16_t>::max());
    for (std::size_t set = 1; set < sets; ++set) {
        for (std::size_t v = 0; v < n; ++v) {
            const std::size_t rest = set & ~(std::size_t{1} << v);
            if (rest == set) continue;
            auto& best = shortest[set * n + v];
            if (rest == 0) best = 0;
            for (std::size_t w = 0; w < n; ++w) {
                if ((rest >> w & 1U) == 0) continue;
                const int via = changes(points[v], points[w]) + shortest[rest * n + w];
                best = std::min(best, static_cast<std::uint16_t>(via));
            }
        }
    }
    return shortest;
}

/// The best way; of several the one with the smallest numbers first.
order exact(std::span<const positions> points, const std::optional<positions>& start) {
    const std::size_t n = points.size();
    const auto shortest = shortest_ways(points);
    order way;
    std::size_t set = (std::size_t{1} << n) - 1;
    while (set != 0) {
        const auto cost = [&](std::size_t v) {
            const int step = way.empty() ? first_changes(start, points[v])
                                         : changes(points[way.back()], points[v]);
            return step + shortest[set * n + v];
        };
        std::size_t best = n;
        for (std::size_t v = 0; v < n; ++v)
            if ((set >> v & 1U) != 0 && (best == n || cost(v) < cost(best))) best = v;
        way.push_back(best);
        set &= ~(std::size_t{1} << best);
    }
    return way;
}

/// The values of each position, in the order in which the points show them; a start's own first.
std::vector<std::vector<int>> values_of(std::span<const positions> points,
                                        const std::optional<positions>& start) {
    std::vector<std::vector<int>> all(points.front().size());
    for (const auto& p : points) {
        for (std::size_t i = 0; i < p.size(); ++i)
            if (std::ranges::find(all[i], p[i]) == all[i].end()) all[i].push_back(p[i]);
    }
    for (std::size_t i = 0; start && i < all.size(); ++i) {
        const auto own = std::ranges::find(all[i], (*start)[i]);
        if (own != all[i].end()) std::rotate(all[i].begin(), own, own + 1);
    }
    return all;
}

bool is_every_combination(const std::vector<std::vector<int>>& values, std::size_t points) {
    std::size_t n = 1;
    for (const auto& v : values) {
        n *= v.size();
        if (n > points) return false;
    }
    return n == points;
}

/// Each further position runs to and fro while the ones before it stay put.
order gray_code(std::span<const positions> points, const std::vector<std::vector<int>>& values) {
    std::vector<positions> sequence{{}};
    for (const auto& own : values) {
        std::vector<positions> longer;
        bool back = false;
        for (const auto& head : sequence) {
            for (std::size_t i = 0; i < own.size(); ++i) {
                longer.push_back(head);
                longer.back().push_back(back ? own[own.size() - 1 - i] : own[i]);
            }
            back = !back;
        }
        sequence = std::move(longer);
    }
    std::map<positions, std::size_t> index;
    for (std::size_t i = 0; i < points.size(); ++i) index[points[i]] = i;
    order way;
    for (const auto& p : sequence) way.push_back(index.at(p));
    return way;
}

}  // namespace

int changes(const positions& a, const positions& b) noexcept {
    return std::transform_reduce(a.begin(), a.end(), b.begin(), 0, std::plus{},
                                 [](int x, int y) { return x == y ? 0 : 1; });
}

int least_changes(std::span<const positions> points) {
    return points.empty() ? 0 : spanning_tree{points, 0}.weight();
}

std::vector<std::size_t> fewest_changes(std::span<const positions> points,
                                        const std::optional<positions>& start) {
    if (points.empty()) return {};
    if (points.size() <= most_exact) return exact(points, start);
    const auto values = values_of(points, start);
    if (is_every_combination(values, points.size())) return gray_code(points, values);
    return improved_way(points, start);
}

}  // namespace cvrig
