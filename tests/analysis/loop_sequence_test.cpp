#include "analysis/loop_sequence.hpp"

#include <rapidcheck.h>
#include <algorithm>
#include <catch2/catch.hpp>
#include <cmath>
#include <map>
#include <numeric>

namespace {

using cvrig::analysis::loop_sequence;

constexpr std::size_t period = (std::size_t{1} << 31U) - 1;

int bit(float v) {
    return v > 0.0F ? 1 : 0;
}

std::map<std::size_t, std::size_t> run_lengths(const std::vector<float>& s) {
    std::map<std::size_t, std::size_t> out;
    std::size_t length = 1;
    for (std::size_t n = 1; n < s.size(); ++n) {
        if (s[n] == s[n - 1]) {
            ++length;
        } else {
            ++out[length];
            length = 1;
        }
    }
    return out;
}

}  // namespace

TEST_CASE("the loop sequence obeys the 28th and 31st stage of ITU-T O.150, 5.8",
          "[analysis][loop]") {
    const auto s = loop_sequence(20000, 123456789);
    bool obeys = true;
    for (std::size_t n = 31; n < s.size(); ++n)
        obeys = obeys && bit(s[n]) == (bit(s[n - 28]) ^ bit(s[n - 31]));
    CHECK(obeys);
}

TEST_CASE("the loop sequence can be entered anywhere", "[analysis][loop]") {
    const bool same = rc::check("a later start is the same sequence", [] {
        const auto first =
            static_cast<std::size_t>(*rc::gen::inRange<std::uint64_t>(0, 3 * period));
        const auto skip = static_cast<std::size_t>(*rc::gen::inRange(0, 2000));
        const auto whole = loop_sequence(2100, first);
        const auto part = loop_sequence(100, first + skip);
        RC_ASSERT(std::equal(part.begin(), part.end(),
                             whole.begin() + static_cast<std::ptrdiff_t>(skip)));
    });
    CHECK(same);
}

TEST_CASE("the loop sequence repeats after 2^31 - 1 samples and not before (ITU-T O.150, 5.8)",
          "[analysis][loop]") {
    // 2^31 - 1 is a prime number (Euler 1772), so a sequence that comes back after it and is not
    // constant has no shorter period: it is maximal.
    CHECK(loop_sequence(200, period) == loop_sequence(200, 0));
    CHECK(loop_sequence(200, 1) != loop_sequence(200, 0));
}

TEST_CASE("the longest runs are 31 of one kind and 30 of the other (Golomb 1967)",
          "[analysis][loop]") {
    // ITU-T O.150, 5.8 prints 31 consecutive zeros for the signal that it inverts. The places were
    // found by stepping a register through the whole period, apart from this code.
    constexpr std::size_t ones_at = 1553395852;
    constexpr std::size_t zeros_at = 1553657995;
    const auto ones = loop_sequence(33, ones_at - 1);
    CHECK(ones.front() < 0.0F);
    CHECK(std::all_of(ones.begin() + 1, ones.end() - 1, [](float v) { return v == 1.0F; }));
    CHECK(ones.back() < 0.0F);
    const auto zeros = loop_sequence(32, zeros_at - 1);
    CHECK(zeros.front() > 0.0F);
    CHECK(std::all_of(zeros.begin() + 1, zeros.end() - 1, [](float v) { return v == -1.0F; }));
    CHECK(zeros.back() > 0.0F);
}

TEST_CASE("half of the runs have length 1, a quarter length 2 and so on (Golomb 1967)",
          "[analysis][loop]") {
    // Golomb, "Shift Register Sequences", 1967: the randomness postulates. Over a part
    // of the period they hold as for coin tosses: limits are 5 standard deviations.
    constexpr std::size_t samples = 1U << 20U;
    const auto s = loop_sequence(samples, 55555);
    const double balance = std::accumulate(s.begin(), s.end(), 0.0);
    CHECK(std::abs(balance) < 5 * std::sqrt(samples));
    const auto runs = run_lengths(s);
    double all = 0.0;
    for (const auto& [length, count] : runs) all += static_cast<double>(count);
    for (const std::size_t length : {1U, 2U, 3U, 4U, 5U, 6U, 7U, 8U}) {
        const double share = std::pow(0.5, static_cast<double>(length));
        CAPTURE(length);
        CHECK(std::abs(static_cast<double>(runs.at(length)) - share * all) <
              5 * std::sqrt(share * all));
    }
}

TEST_CASE("the loop sequence is unlike itself at every other lag (Golomb 1967)",
          "[analysis][loop]") {
    constexpr std::size_t samples = 1U << 18U;
    const auto s = loop_sequence(samples + 200, 31);
    double worst = 0.0;
    for (std::size_t lag = 1; lag < 200; ++lag) {
        double sum = 0.0;
        for (std::size_t n = 0; n < samples; ++n)
            sum += static_cast<double>(s[n]) * static_cast<double>(s[n + lag]);
        worst = std::max(worst, std::abs(sum));
    }
    // -1 over the whole period; as coin tosses over a part: 5 standard deviations.
    CHECK(worst < 5 * std::sqrt(static_cast<double>(samples)));
}
