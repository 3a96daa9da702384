// A program that misbehaves on request: rogue MODE STIMULUS RESPONSE [name=value ...].
// It answers every good mode with two channels: the first stimulus channel, and the same inverted.

#include <unistd.h>

#include <chrono>
#include <cmath>
#include <csignal>
#include <cstdio>
#include <cstdlib>
#include <filesystem>
#include <fstream>
#include <functional>
#include <limits>
#include <map>
#include <random>
#include <string>
#include <thread>

#include "rig/stimulus/wave_file.hpp"

namespace {

using cvrig::recording;

struct request {
    recording stimulus;
    std::filesystem::path response;
};

recording answer_to(const request& r) {
    auto out = recording{r.stimulus.rate, {r.stimulus.channels[0], r.stimulus.channels[0]}};
    for (float& v : out.channels[1]) v = -v;
    return out;
}

void answer(const request& r) {
    cvrig::write_wave_file(r.response, answer_to(r));
}

void answer_with(const request& r, const std::function<void(recording&)>& change) {
    auto out = answer_to(r);
    change(out);
    cvrig::write_wave_file(r.response, out);
}

void fill(recording& out, const std::function<float()>& next) {
    for (auto& channel : out.channels)
        for (float& v : channel) v = next();
}

[[noreturn]] void sleep_for_ever() {
    for (;;) std::this_thread::sleep_for(std::chrono::seconds{1});
}

/// Leaves a process behind that holds this one's output. Its number goes to a file.
void leave_grandchild(const request& r) {
    answer(r);
    const pid_t child = ::fork();
    if (child == 0) sleep_for_ever();
    std::ofstream{r.response.string() + ".pid"} << child;
}

using mode = std::function<int(const request&)>;

/// A mode that answers after a change to the good response.
mode changed(std::function<void(recording&)> change) {
    return [change = std::move(change)](const request& r) {
        answer_with(r, change);
        return 0;
    };
}

std::map<std::string, mode> audible_modes() {
    constexpr float nan = std::numeric_limits<float>::quiet_NaN();
    constexpr float infinite = std::numeric_limits<float>::infinity();
    return {
        {"good", changed([](recording&) {})},
        {"nan", changed([](recording& r) { r.channels[0].at(4711) = nan; })},
        {"nans", changed([](recording& r) {
             for (std::size_t i = 4711; i < 4721; ++i) r.channels[1].at(i) = nan;
         })},
        {"infinite", changed([](recording& r) { r.channels[1].back() = infinite; })},
        {"wrong-rate", changed([](recording& r) { r.rate = cvrig::sample_rate{44100.0}; })},
        {"mono", changed([](recording& r) { r.channels.pop_back(); })},
        {"short", changed([](recording& r) {
             for (auto& c : r.channels) c.resize(c.size() - 2400);
         })},
        {"long", changed([](recording& r) {
             for (auto& c : r.channels) c.resize(c.size() + 1);
         })},
        {"silence", changed([](recording& r) { fill(r, [] { return 0.0F; }); })},
        {"constant", changed([](recording& r) { fill(r, [] { return 0.5F; }); })},
        {"noise", changed([](recording& r) {
             std::minstd_rand source{1};
             std::uniform_real_distribution<float> volts{-10.0F, 10.0F};
             fill(r, [&] { return volts(source); });
         })},
        {"empty-wave", changed([](recording& r) {
             for (auto& c : r.channels) c.clear();
         })},
    };
}

std::map<std::string, mode> rude_modes() {
    return {
        {"nothing", [](const request&) { return 0; }},
        {"crash",
         [](const request& r) {
             answer(r);
             ::signal(SIGSEGV, SIG_DFL);  // also when a sanitizer had taken it
             return ::raise(SIGSEGV);
         }},
        {"hang",
         [](const request& r) {
             ::signal(SIGTERM, SIG_IGN);
             answer(r);
             sleep_for_ever();
             return 0;
         }},
        {"half",
         [](const request& r) {
             answer(r);
             std::filesystem::resize_file(r.response, std::filesystem::file_size(r.response) / 2);
             return 0;
         }},
        {"text",
         [](const request& r) {
             std::ofstream{r.response} << "this is not a wave file\n";
             return 0;
         }},
        {"babble",
         [](const request& r) {
             for (int i = 0; i < 100000; ++i) std::fprintf(stderr, "line %d of babble\n", i);
             answer(r);
             return 0;
         }},
        {"status-3",
         [](const request& r) {
             std::fputs("the oscillator is on fire\n", stderr);
             answer(r);
             return 3;
         }},
        {"grandchild",
         [](const request& r) {
             leave_grandchild(r);
             return 0;
         }},
    };
}

}  // namespace

int main(int argc, char** argv) {
    if (argc < 4) return 64;
    auto modes = audible_modes();
    modes.merge(rude_modes());
    // A stimulus has as many channels as the bench drives: two in these tests.
    return modes.at(argv[1])({cvrig::read_wave_file(argv[2], 2), argv[3]});
}
