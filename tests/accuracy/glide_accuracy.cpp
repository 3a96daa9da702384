// Prints how accurate glides are measured on drawn slides, each class on each seed.
//
//   glide_accuracy [slides] [seed ...] [list]
//
// A slide is flagged when it is refused or its standard uncertainty exceeds a third of a per cent;
// flagging is right when the error exceeds 1 % (a refusal counts as right when it would have).
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

namespace {

struct score {
    double error{0.0};  // per cent
    double u{0.0};
    double cpu_s{0.0};
    bool refused{false};
    bool shape_right{false}, shape_decided{false};

    [[nodiscard]] bool flagged() const { return refused || u > 1.0 / 3; }
};

score score_of(const drawn_glide& drawn) {
    const auto record = render(drawn.voice);
    const std::clock_t begin = std::clock();
    const auto reading =
        analysis::measure_glide(record.volts, sample_rate{drawn.voice.rate_hz}, drawn.request);
    score s;
    s.cpu_s = static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC;
    s.refused = !reading;
    if (!reading) return s;
    s.error = 100 * (reading->time_constant.value() / drawn.voice.tau_s - 1);
    s.u = 100 * reading->u_time_constant.value() / drawn.voice.tau_s;
    s.shape_right = reading->shape == drawn.voice.shape;
    s.shape_decided = reading->shape_decided;
    return s;
}

void list(unsigned number, const drawn_glide& d, const score& s) {
    const auto& v = d.voice;
    std::printf(
        "%4u %8.2f > %7.2f Hz, tau %7.2f ms, %2.0f dB, decay %.1f, filter %d cutoff %5.0f "
        "res %.1f hp %4.1f: ",
        number, v.from_hz, v.to_hz, 1e3 * v.tau_s, v.snr_db, v.decay_per_s,
        static_cast<int>(v.filter), v.cutoff_hz, v.resonance, v.high_pass_hz);
    if (s.refused)
        std::printf("refused");
    else
        std::printf("error %9.5f %%, u %8.5f %%, error/u %5.1f%s%s", s.error, s.u, s.error / s.u,
                    s.shape_right ? "" : ", wrong shape", s.shape_decided ? "" : ", undecided");
    std::printf(", %.0f ms\n", 1e3 * s.cpu_s);
}

double quantile(const std::vector<double>& sorted, double share) {
    if (sorted.empty()) return 0.0;
    const auto last = static_cast<double>(sorted.size() - 1);
    return sorted[static_cast<std::size_t>(std::lround(share * last))];
}

void print_row(const char* name, unsigned seed, const std::vector<score>& all) {
    std::vector<double> errors;
    double cpu = 0.0, worst_unflagged = 0.0;
    int over = 0, refused = 0, right = 0, false_alarm = 0, missed = 0, beyond2 = 0, beyond3 = 0;
    int wrong_shape = 0;
    for (const auto& s : all) {
        cpu += s.cpu_s;
        if (s.refused) {
            ++refused;
            continue;
        }
        const double e = std::abs(s.error);
        errors.push_back(e);
        const bool bad = e > 1.0;
        over += bad;
        right += s.flagged() && bad;
        false_alarm += s.flagged() && !bad;
        missed += !s.flagged() && bad;
        if (!s.flagged()) worst_unflagged = std::max(worst_unflagged, e);
        beyond2 += e > 2 * s.u;
        beyond3 += e > 3 * s.u;
        wrong_shape += s.shape_decided && !s.shape_right;
    }
    std::sort(errors.begin(), errors.end());
    const double read = std::max(1.0, static_cast<double>(errors.size()));
    std::printf(
        "%-6s %5u %4zu  %8.5f %8.4f %8.3f %4d  %3d  %3d/%3d/%3d  %8.4f  %5.1f %5.1f  %3d  "
        "%6.3f\n",
        name, seed, all.size(), quantile(errors, 0.5), quantile(errors, 0.95),
        quantile(errors, 1.0), over, refused, right, false_alarm, missed, worst_unflagged,
        100 * beyond2 / read, 100 * beyond3 / read, wrong_shape,
        cpu / static_cast<double>(all.size()));
}

struct named_class {
    const char* name;
    glide_class kind;
};

}  // namespace

int main(int argc, char** argv) {
    unsigned slides = 96;
    std::vector<unsigned> seeds;
    bool listing = false;
    std::string only;
    for (int i = 1; i < argc; ++i) {
        const std::string word = argv[i];
        if (word == "list")
            listing = true;
        else if (word.find_first_not_of("0123456789") != std::string::npos)
            only = word;
        else if (i == 1)
            slides = static_cast<unsigned>(std::atoi(argv[i]));
        else
            seeds.push_back(static_cast<unsigned>(std::atoi(argv[i])));
    }
    if (seeds.empty()) seeds = {101, 907};
    std::printf(
        "time constant: error in per cent of it\n"
        "class   seed    n    median     95 %%    worst >1%% refused flags r/f/m unflagged "
        " >2u %% >3u %% shape CPU s\n");
    for (const auto& c : {named_class{"A", glide_class::fixed_amplitudes},
                          named_class{"F", glide_class::fixed_filter},
                          named_class{"typ A", glide_class::typical_fixed_amplitudes},
                          named_class{"typ F", glide_class::typical_fixed_filter},
                          named_class{"V", glide_class::moving_filter}}) {
        if (!only.empty() && only != c.name) continue;
        for (const unsigned seed : seeds) {
            std::vector<score> all;
            for (unsigned i = 0; i < slides; ++i) {
                const auto drawn = draw_glide(1000 * seed + i, c.kind);
                all.push_back(score_of(drawn));
                if (listing) list(i, drawn, all.back());
            }
            print_row(c.name, seed, all);
        }
    }
    return 0;
}
