#include <algorithm>
#include <cmath>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <functional>
#include <numeric>
#include <optional>

#include "analysis/tone.hpp"
#include "tests/accuracy/pitch_bound.hpp"
#include "tests/support/aubio_pitch.hpp"

namespace cvrig::accuracy {
namespace {

constexpr double gross_cents = 50.0;
constexpr double timed_periods = 6.0;

struct outcome_of_note {
    double error_cents{0};
    bool gross{true};
    std::optional<analysis::tone_reading> reading;
};

struct summary {
    std::vector<outcome_of_note> notes;
    double sound_seconds{0};  // of the notes with 6 periods and more
    double cpu_seconds{0};
};

using estimator =
    std::function<std::pair<std::optional<hertz>, std::optional<analysis::tone_reading>>(
        const trial&)>;

summary measured(const std::vector<trial>& trials, const estimator& estimate) {
    summary s;
    for (const trial& t : trials) {
        const std::clock_t begin = std::clock();
        const auto [pitch, reading] = estimate(t);
        const std::clock_t end = std::clock();
        if (t.periods() >= timed_periods) {
            s.sound_seconds += t.length().value();
            s.cpu_seconds += static_cast<double>(end - begin) / CLOCKS_PER_SEC;
        }
        outcome_of_note note;
        note.reading = reading;
        if (pitch) note.error_cents = std::abs(interval(*pitch, t.tone.pitch).value());
        note.gross = !pitch || !(note.error_cents <= gross_cents);
        s.notes.push_back(note);
    }
    return s;
}

void print_row(const char* name, const summary& s) {
    std::vector<double> errors;
    int gross = 0;
    for (const auto& n : s.notes) {
        gross += n.gross ? 1 : 0;
        if (!n.gross) errors.push_back(n.error_cents);
    }
    std::sort(errors.begin(), errors.end());
    const std::size_t at95 = errors.empty() ? 0 : (errors.size() - 1) * 95 / 100;
    std::printf(
        "  %-16s gross %3d (%5.2f %%)   95 %%: %9.5f cents   worst: %9.5f cents   %7.1f x real "
        "time\n",
        name, gross, 100.0 * gross / static_cast<double>(s.notes.size()),
        errors.empty() ? 0.0 : errors[at95], errors.empty() ? 0.0 : errors.back(),
        s.sound_seconds / std::max(s.cpu_seconds, 1e-9));
}

std::pair<std::optional<hertz>, std::optional<analysis::tone_reading>> by_fit(const trial& t) {
    const auto reading = analysis::measure_tone(t.samples_volts, t.rate);
    if (!reading) return {std::nullopt, std::nullopt};
    return {reading->pitch, *reading};
}

void print_note(const char* why, const trial& t, const outcome_of_note& n, double bound) {
    std::printf(
        "    %s: %.3f Hz, %.4f s (%.2f periods), %s, %.0f dB: error %.5f cents, bound %.5f, u "
        "%.5f\n",
        why, t.tone.pitch.value(), t.length().value(), t.periods(), t.kind.c_str(), t.snr_db,
        n.error_cents, bound, n.reading ? n.reading->u_cents().value() : 0.0);
}

void print_bounds(const std::vector<trial>& trials, const summary& s, bool verbose) {
    double full = 0.0;
    double asymptotic = 0.0;
    double count = 0.0;
    int beyond = 0;
    int covered = 0;
    double worst = 0.0;
    std::size_t worst_at = 0;
    for (std::size_t i = 0; i < trials.size(); ++i) {
        const auto& n = s.notes[i];
        const double bound = full_bound(trials[i]).value();
        if (n.gross) {
            print_note("GROSS", trials[i], n, bound);
            continue;
        }
        full += std::pow(n.error_cents / bound, 2);
        asymptotic += std::pow(n.error_cents / harmonic_bound(trials[i]).value(), 2);
        count += 1.0;
        covered += n.error_cents <= 2.0 * n.reading->u_cents().value() ? 1 : 0;
        const bool far = n.error_cents > 4.0 * bound + 0.001;
        beyond += far ? 1 : 0;
        if (far || (verbose && n.error_cents > 3.0 * bound)) print_note("far", trials[i], n, bound);
        if (n.error_cents / bound > worst) {
            worst = n.error_cents / bound;
            worst_at = i;
        }
    }
    std::printf(
        "  rms error / Cramer-Rao bound of the whole model: %.3f  (of the steady harmonic tone: "
        "%.3f)\n",
        std::sqrt(full / count), std::sqrt(asymptotic / count));
    std::printf(
        "  beyond 4 bounds + 0.001 cents: %d;  within 2 u: %.1f %%;  largest error / bound: %.2f\n",
        beyond, 100.0 * covered / count, worst);
    print_note("largest", trials[worst_at], s.notes[worst_at],
               full_bound(trials[worst_at]).value());
}

void print_misfit(std::uint64_t seed) {
    const auto trials = misfit_notes(seed);
    const summary s = measured(trials, by_fit);
    double worst = 0.0;
    int gross = 0;
    int uncovered = 0;
    for (std::size_t i = 0; i < trials.size(); ++i) {
        const auto& n = s.notes[i];
        gross += n.gross ? 1 : 0;
        if (n.gross) {
            print_note("GROSS", trials[i], n, 0.0);
            continue;
        }
        worst = std::max(worst, n.error_cents);
        const bool inside = n.error_cents <= 2.0 * n.reading->u_cents().value();
        uncovered += inside ? 0 : 1;
        if (n.error_cents > 0.1 && !inside) print_note("not covered", trials[i], n, 0.0);
    }
    std::printf(
        "  misfit (%zu notes, own decays, hum, mains off 0.4 %%, no noise): gross %d, worst %.5f "
        "cents, "
        "within 2 u: %.1f %%\n",
        trials.size(), gross, worst,
        100.0 * (1.0 - uncovered / static_cast<double>(trials.size())));
}

void report(std::uint64_t seed, bool verbose) {
    const auto trials = bench_notes(seed);
    std::printf("seed %llu: %zu notes\n", static_cast<unsigned long long>(seed), trials.size());
    const summary ours = measured(trials, by_fit);
    print_row("cvrig", ours);
    for (const char* method : {"yinfast", "default"})
        print_row((std::string{"aubio "} + method).c_str(), measured(trials, [&](const trial& t) {
                      return std::pair{test_support::aubio_pitch(method, t.samples_volts, t.rate),
                                       std::optional<analysis::tone_reading>{}};
                  }));
    print_bounds(trials, ours, verbose);
    print_misfit(seed);
}

}  // namespace
}  // namespace cvrig::accuracy

int main(int argc, char** argv) {
    std::vector<std::uint64_t> seeds;
    bool verbose = false;
    for (int i = 1; i < argc; ++i)
        if (std::string{argv[i]} == "-v")
            verbose = true;
        else
            seeds.push_back(std::strtoull(argv[i], nullptr, 10));
    if (seeds.empty()) seeds = {1, 20261};
    for (const auto seed : seeds) cvrig::accuracy::report(seed, verbose);
}
