#include "analysis/window.hpp"

#include <catch2/catch.hpp>
#include <cmath>
#include <numeric>

using namespace cvrig::analysis;
using Catch::Matchers::WithinAbs;
using Catch::Matchers::WithinRel;
using enum window_kind;

namespace {

double loss(window_kind kind) {
    return scalloping_loss(make_window(kind, 4096)).value().value();
}

}  // namespace

TEST_CASE("window: figures of merit agree with Harris 1978, Table I", "[analysis][window]") {
    struct row {
        window_kind kind;
        double gain, bandwidth_bins, scalloping_db;
    };
    // F. J. Harris, Proc. IEEE 66(1), 1978, Table I (printed to two decimals, from memory). The
    // Hamming scalloping loss printed there, 1.78 dB, belongs to the coefficients 25/46 and 21/46;
    // 0.54 / 0.46 gives 1.75 dB (Heinzel 2002 below), so that entry is left out here.
    const row rows[] = {{rectangular, 1.00, 1.00, 3.92},
                        {hann, 0.50, 1.50, 1.42},
                        {hamming, 0.54, 1.36, std::nan("")},
                        {blackman, 0.42, 1.73, 1.10},
                        {blackman_harris, 0.36, 2.00, 0.83}};
    for (const auto& r : rows) {
        CAPTURE(name_of(r.kind));
        const auto w = make_window(r.kind, 4096);
        CHECK_THAT(coherent_gain(w).value(), WithinAbs(r.gain, 0.005));
        CHECK_THAT(noise_bandwidth_bins(w).value(), WithinAbs(r.bandwidth_bins, 0.005));
        if (!std::isnan(r.scalloping_db))
            CHECK_THAT(loss(r.kind), WithinAbs(r.scalloping_db, 0.005));
    }
}

TEST_CASE("window: bandwidth and flatness agree with Heinzel 2002", "[analysis][window]") {
    struct row {
        window_kind kind;
        double bandwidth_bins, flatness_db;
    };
    // G. Heinzel, A. Ruediger, R. Schilling, 2002, table of windows: ENBW and amplitude flatness
    // to four decimals. For HFT95 the printed flatness is the largest gain anywhere within half a
    // bin (+0.0044), not the loss at its edge, so it bounds the loss there.
    const row rows[] = {
        {hann, 1.5000, 1.4236},    {hamming, 1.3628, 1.7514}, {blackman_harris, 2.0044, 0.8256},
        {nuttall, 1.9761, 0.8506}, {hft95, 3.8112, 0.0044},   {hft116d, 4.2186, 0.0028},
        {hft144d, 4.5386, 0.0021}};
    for (const auto& r : rows) {
        CAPTURE(name_of(r.kind));
        const auto w = make_window(r.kind, 4096);
        CHECK_THAT(noise_bandwidth_bins(w).value(), WithinAbs(r.bandwidth_bins, 5.1e-5));
        if (r.kind == hft95 || r.kind == hft144d)
            CHECK(std::abs(loss(r.kind)) <= r.flatness_db + 5e-5);
        else
            CHECK_THAT(loss(r.kind), WithinAbs(r.flatness_db, 5.1e-5));
    }
    CHECK_THAT(noise_bandwidth_bins(make_window(hft70, 4096)).value(), WithinAbs(3.4129, 5.1e-5));
}

TEST_CASE("window: noise bandwidth follows from the coefficients", "[analysis][window]") {
    // Parseval for a sum of cosines: ENBW = 1 + sum(a_k^2) / (2 a_0^2), exact in periodic form.
    for (const auto kind : {rectangular, hann, hamming, blackman, blackman_harris, nuttall, hft70,
                            hft95, hft116d, hft144d}) {
        CAPTURE(name_of(kind));
        const auto a = cosine_coefficients(kind);
        double sum = 0;
        for (std::size_t k = 1; k < a.size(); ++k) sum += a[k] * a[k];
        const auto w = make_window(kind, 64);
        CHECK_THAT(noise_bandwidth_bins(w).value(), WithinRel(1 + sum / (2 * a[0] * a[0]), 1e-12));
        CHECK_THAT(coherent_gain(w).value(),
                   WithinRel(a[0] / std::accumulate(a.begin(), a.end(), 0.0), 1e-12));
    }
}

TEST_CASE("window: the periodic form starts at its smallest value and peaks at the middle",
          "[analysis][window]") {
    const auto w = make_window(hann, 8);
    // sin^2(pi n / 8): algebra.
    CHECK_THAT(w[0], WithinAbs(0.0, 1e-15));
    CHECK_THAT(w[2], WithinAbs(0.5, 1e-15));
    CHECK_THAT(w[4], WithinAbs(1.0, 1e-15));
    CHECK_THAT(w[1], WithinAbs(w[7], 1e-15));
    CHECK(make_window(hann, 0).empty());
}

TEST_CASE("window: no weights and weights without sum are refused", "[analysis][window]") {
    const std::vector<double> none, zero{1, -1};
    CHECK(coherent_gain(none).error() == refusal::too_short);
    CHECK(noise_bandwidth_bins(none).error() == refusal::too_short);
    CHECK(scalloping_loss(none).error() == refusal::too_short);
    CHECK(noise_bandwidth_bins(zero).error() == refusal::silent);
    CHECK(scalloping_loss(zero).error() == refusal::silent);
}
