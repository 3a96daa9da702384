// Processor time for reading the loop-back of a take of 60 s. Usage: loop_speed [repeats].

#include <algorithm>
#include <cstdio>
#include <cstdlib>
#include <ctime>
#include <vector>

#include "analysis/loop_sequence.hpp"
#include "tests/support/signal_path.hpp"

int main(int argc, char** argv) {
    using namespace cvrig;
    constexpr std::size_t sent = 60 * 48000;
    constexpr std::size_t latency = 2560;
    const int repeats = argc > 1 ? std::max(std::atoi(argv[1]), 1) : 5;
    std::vector<float> heard(latency, 0.0F);
    const auto sequence = analysis::loop_sequence(sent);
    heard.insert(heard.end(), sequence.begin(), sequence.end());
    heard.resize(heard.size() + 4800);
    testing::add_noise(heard, 0.01, 1);
    std::vector<double> times;
    for (int i = 0; i < repeats; ++i) {
        const auto begin = std::clock();
        const auto r = analysis::read_loop(heard, 1.0, sent);
        times.push_back(static_cast<double>(std::clock() - begin) / CLOCKS_PER_SEC);
        if (!r || !r->breaks.empty()) return 1;
    }
    std::ranges::sort(times);
    const double middle = times[times.size() / 2];
    std::printf("%-10s %6.1f s of sound  %7.3f s analysis (%.3f to %.3f)  %6.1f x real time\n",
                "loop-back", 60.0, middle, times.front(), times.back(), 60.0 / middle);
    return 0;
}
