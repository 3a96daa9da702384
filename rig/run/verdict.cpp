#include "rig/run/verdict.hpp"

#include <algorithm>

namespace cvrig {

namespace {

int weight(verdict v) noexcept {
    switch (v) {
        case verdict::pass:
            return 0;
        case verdict::skipped:
            return 1;
        case verdict::unsure:
            return 2;
        case verdict::fail:
            return 3;
    }
    return 3;
}

}  // namespace

std::string_view in_words(verdict v) noexcept {
    switch (v) {
        case verdict::pass:
            return "pass";
        case verdict::fail:
            return "fail";
        case verdict::unsure:
            return "unsure";
        case verdict::skipped:
            return "skipped";
    }
    return "fail";
}

verdict worse(verdict a, verdict b) noexcept {
    return weight(a) >= weight(b) ? a : b;
}

const analysis::contribution* reading::largest() const noexcept {
    const auto found =
        std::max_element(budget.begin(), budget.end(),
                         [](const analysis::contribution& a, const analysis::contribution& b) {
                             return a.standard_uncertainty < b.standard_uncertainty;
                         });
    return found == budget.end() ? nullptr : &*found;
}

}  // namespace cvrig
