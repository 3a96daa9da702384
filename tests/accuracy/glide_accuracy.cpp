#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <string>
#include <vector>

#include "tests/support/synthetic_glide.hpp"
using namespace cvrig;
using namespace cvrig::testing;
int main(int argc, char** argv) {
    const bool filtered = argc > 1 && std::string(argv[1]) == "F";
    const unsigned seed = argc > 2 ? std::atoi(argv[2]) : 101;
    const int from = argc > 3 ? std::atoi(argv[3]) : 0, to = argc > 4 ? std::atoi(argv[4]) : 24;
    std::vector<double> errors;
    for (int i = from; i < to; ++i) {
        const auto d = draw_glide(seed * 1000 + i, filtered);
        const auto r = render(d.voice);
        const std::clock_t c0 = std::clock();
        const auto m = analysis::measure_glide(r.volts, sample_rate{48000}, d.request);
        const double cpu = 1e3 * double(std::clock() - c0) / CLOCKS_PER_SEC;
        const auto& v = d.voice;
        std::printf("%2d %7.2f>%7.2f tau %6.2f %d snr %.0f d %.1f f%d fc %.0f r %.1f hp %.0f | ", i, v.from_hz, v.to_hz, 1e3 * v.tau_s, (int)v.wave, v.snr_db, v.decay_per_s, (int)v.filter, v.cutoff_hz, v.resonance, v.high_pass_hz);
        if (!m) { std::printf("refused %s  %.1f ms\n", std::string(analysis::explain(m.error())).c_str(), cpu); continue; }
        const double e = 100 * (m->time_constant.value() / v.tau_s - 1), u = 100 * m->u_time_constant.value() / v.tau_s;
        errors.push_back(std::abs(e));
        std::printf("err %.5f %% u %.5f z %.1f  cpu %.1f ms\n", e, u, e / u, cpu);
    }
    std::sort(errors.begin(), errors.end());
    if (!errors.empty()) std::printf("median %.5f 95 %.5f worst %.5f\n", errors[errors.size() / 2], errors[errors.size() * 95 / 100], errors.back());
}
