#include "rig/run/way.hpp"

#include <algorithm>

#include "rig/run/spanning_tree.hpp"

namespace cvrig {

namespace {

using order = std::vector<std::size_t>;

/// A way through all points that gets better by exchanging and moving its parts.
class way {
public:
    way(std::span<const positions> points, const std::optional<positions>& start, order begin)
        : points_{points}, start_{start}, at_{std::move(begin)} {}

    [[nodiscard]] int length() const {
        int sum = 0;
        for (std::size_t i = 0; i < at_.size(); ++i) sum += step(i, at_[i]);
        return sum;
    }

    void improve() {
        // Each pass makes the way shorter by one change at least; the bound is for the time alone.
        constexpr int most_passes = 100;
        for (int pass = 0; pass < most_passes; ++pass)
            if (!turn_parts_round() && !move_parts()) return;
    }

    [[nodiscard]] order take() && { return std::move(at_); }

private:
    /// The changes from what stands before place i to point v; the start stands before place 0.
    [[nodiscard]] int step(std::size_t i, std::size_t v) const {
        if (i == 0) return start_ ? changes(*start_, points_[v]) : 0;
        return changes(points_[at_[i - 1]], points_[v]);
    }
    /// The changes from point v to what stands at place i; nothing comes behind the end.
    [[nodiscard]] int onward(std::size_t v, std::size_t i) const {
        return i < at_.size() ? changes(points_[v], points_[at_[i]]) : 0;
    }

    /// Turns [i, j] round wherever that saves something.
    bool turn_parts_round() {
        bool better = false;
        for (std::size_t i = 0; i + 1 < at_.size(); ++i) {
            for (std::size_t j = i + 1; j < at_.size(); ++j) {
                const int now = step(i, at_[i]) + onward(at_[j], j + 1);
                const int then = step(i, at_[j]) + onward(at_[i], j + 1);
                if (then >= now) continue;
                std::reverse(begin(i), begin(j + 1));
                better = true;
            }
        }
        return better;
    }

    /// Moves up to three neighbours elsewhere wherever that saves something.
    bool move_parts() {
        bool better = false;
        for (std::size_t size = 1; size <= 3; ++size)
            for (std::size_t i = 0; i + size < at_.size(); ++i)
                better = move_part(i, size) || better;
        return better;
    }

    bool move_part(std::size_t i, std::size_t size) {
        const auto first = at_[i];
        const auto last = at_[i + size - 1];
        const auto behind = i + size;
        const int closing = behind < at_.size() ? step(i, at_[behind]) : 0;
        const int saved = step(i, first) + onward(last, behind) - closing;
        for (std::size_t j = 0; j <= at_.size(); ++j) {
            if (j >= i && j <= behind) continue;
            const int opened = j < at_.size() ? step(j, at_[j]) : 0;
            if (step(j, first) + onward(last, j) - opened >= saved) continue;
            if (j < i) {
                std::rotate(begin(j), begin(i), begin(behind));
            } else {
                std::rotate(begin(i), begin(behind), begin(j));
            }
            return true;
        }
        return false;
    }

    [[nodiscard]] order::iterator begin(std::size_t i) {
        return at_.begin() + static_cast<std::ptrdiff_t>(i);
    }

    std::span<const positions> points_;
    const std::optional<positions>& start_;
    order at_;
};

/// The point that is nearest to the start; the first of several.
std::size_t first_point(std::span<const positions> points, const std::optional<positions>& start) {
    if (!start) return 0;
    const auto nearest = std::ranges::min_element(
        points, {}, [&](const positions& p) { return changes(*start, p); });
    return static_cast<std::size_t>(nearest - points.begin());
}

order nearest_neighbours(std::span<const positions> points, std::size_t first) {
    order met{first};
    std::vector<bool> used(points.size(), false);
    used[first] = true;
    while (met.size() < points.size()) {
        std::size_t best = points.size();
        int fewest = 0;
        for (std::size_t v = 0; v < points.size(); ++v) {
            if (used[v]) continue;
            const int d = changes(points[met.back()], points[v]);
            if (best < points.size() && d >= fewest) continue;
            best = v;
            fewest = d;
        }
        used[best] = true;
        met.push_back(best);
    }
    return met;
}

}  // namespace

std::vector<std::size_t> improved_way(std::span<const positions> points,
                                      const std::optional<positions>& start) {
    const auto first = first_point(points, start);
    way a{points, start, nearest_neighbours(points, first)};
    way b{points, start, spanning_tree{points, first}.walk()};
    auto& better = a.length() <= b.length() ? a : b;
    better.improve();
    return std::move(better).take();
}

}  // namespace cvrig
