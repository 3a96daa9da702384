#include "analysis/strict_minimax.hpp"

#include "analysis/worst_programme.hpp"

namespace cvrig::analysis {
namespace {

using index = Eigen::Index;

constexpr double dependent = 1e-9;  // share of a row that is left outside the span of others
constexpr double through = 1e-11;   // a departure below this share of the least-squares one is none

class search {
public:
    search(const Eigen::MatrixXd& rows, const Eigen::VectorXd& y)
        : rows_{rows}, y_{y}, span_(rows.cols(), 0) {
        found_.last_level.assign(static_cast<std::size_t>(rows.rows()), 0);
    }

    std::optional<strict_minimax> run() {
        while (span_.cols() < rows_.cols()) {
            const auto free = free_rows();
            const auto before = span_.cols();
            const bool exact = y_.isZero(0.0);
            if (!exact && !add_level(free)) return std::nullopt;
            if (exact || found_.departure(found_.levels - 1) <= through) go_through(free);
            if (span_.cols() == before) return std::nullopt;
        }
        solve_system();
        return std::move(found_);
    }

private:
    /// What is left of a row outside the span of the rows that are held already.
    Eigen::VectorXd outside(index row) const {
        const Eigen::VectorXd a = rows_.row(row).transpose();
        const Eigen::VectorXd once = a - span_ * (span_.transpose() * a);
        return once - span_ * (span_.transpose() * once);  // again, against rounding
    }

    void hold(index row) {
        const Eigen::VectorXd rest = outside(row);
        if (rest.norm() <= dependent * rows_.row(row).norm()) return;
        span_.conservativeResize(Eigen::NoChange, span_.cols() + 1);
        span_.rightCols(1) = rest.normalized();
    }

    std::vector<index> free_rows() {
        std::vector<index> out;
        for (index i = 0; i < rows_.rows(); ++i) {
            if (outside(i).norm() <= dependent * rows_.row(i).norm()) continue;
            out.push_back(i);
            found_.last_level[static_cast<std::size_t>(i)] = found_.levels;
        }
        return out;
    }

    bool add_level(const std::vector<index>& free) {
        worst_programme p;
        p.free_rows = rows_(free, Eigen::all);
        p.free_y = y_(free);
        p.pinned_rows = rows_(touching_rows(), Eigen::all);
        p.pinned_y = found_.touching.empty()
                         ? Eigen::VectorXd{}
                         : Eigen::VectorXd{p.pinned_rows * found_.solution.head(rows_.cols())};
        const auto worst = solve(p);
        if (!worst) return false;
        for (std::size_t k = 0; k < worst->rows.size(); ++k) {
            const auto row = free[static_cast<std::size_t>(worst->rows[k])];
            found_.touching.push_back(
                {static_cast<std::size_t>(row), worst->signs[k], found_.levels});
        }
        ++found_.levels;
        solve_system();
        if (found_.departure(found_.levels - 1) > through)
            for (const auto i : worst->rows) hold(free[static_cast<std::size_t>(i)]);
        return true;
    }

    /// The free points can all be met: as many of them as are independent hold the fit.
    void go_through(const std::vector<index>& free) {
        if (found_.levels > 0 && found_.departure(found_.levels - 1) <= through) {
            --found_.levels;
            std::erase_if(found_.touching, [&](const auto& t) { return t.level == found_.levels; });
        }
        for (const auto row : free) {
            const auto before = span_.cols();
            hold(row);
            if (span_.cols() > before)
                found_.touching.push_back({static_cast<std::size_t>(row), 0, found_.levels});
        }
    }

    std::vector<index> touching_rows() const {
        std::vector<index> out;
        for (const auto& t : found_.touching) out.push_back(static_cast<index>(t.index));
        return out;
    }

    /// a c + sign * departure of its level = y, of every touching point.
    void solve_system() {
        const auto held = touching_rows();
        const auto n = rows_.cols();
        Eigen::MatrixXd system = Eigen::MatrixXd::Zero(static_cast<index>(held.size()),
                                                       n + static_cast<index>(found_.levels));
        system.leftCols(n) = rows_(held, Eigen::all);
        for (std::size_t k = 0; k < held.size(); ++k) {
            const auto& t = found_.touching[k];
            if (t.sign != 0)
                system(static_cast<index>(k), n + static_cast<index>(t.level)) = t.sign;
        }
        found_.inverse = system.completeOrthogonalDecomposition().pseudoInverse();
        found_.solution = found_.inverse * y_(held);
    }

    const Eigen::MatrixXd& rows_;
    const Eigen::VectorXd& y_;
    Eigen::MatrixXd span_;  // orthonormal columns
    strict_minimax found_;
};

}  // namespace

std::optional<strict_minimax> find_strict_minimax(const Eigen::MatrixXd& rows,
                                                  const Eigen::VectorXd& y) {
    return search{rows, y}.run();
}

}  // namespace cvrig::analysis
