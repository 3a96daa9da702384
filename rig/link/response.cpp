#include "rig/link/response.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <string>
#include <system_error>

#include "rig/stimulus/wave_file.hpp"

namespace cvrig {
namespace {

/// What is wrong with the form of a response; empty if it is as asked.
std::string form_problem(const wave_format& f, const take& t) {
    const double rate_hz = t.sent.rate.value();
    if (f.channels != t.heard_jacks.size())
        return fmt::format("the response has {} channels instead of {}", f.channels,
                           t.heard_jacks.size());
    if (f.rate != t.sent.rate)
        return fmt::format("the response has {:g} samples per second instead of {:g}",
                           f.rate.value(), rate_hz);
    if (!f.is_float)
        return fmt::format(
            "the response is {}, which cannot hold more than 1 V; write 32 bit float",
            f.sample_type);
    if (f.frames == t.sent.size()) return {};
    const bool is_short = f.frames < t.sent.size();
    const std::size_t by = is_short ? t.sent.size() - f.frames : f.frames - t.sent.size();
    return fmt::format("the response is {:.3g} s ({} samples) too {}",
                       static_cast<double>(by) / rate_hz, by, is_short ? "short" : "long");
}

std::string finiteness_problem(const take& t) {
    std::string first;
    std::size_t count = 0;
    for (std::size_t c = 0; c < t.heard.size(); ++c) {
        const auto& channel = t.heard[c];
        for (std::size_t i = 0; i < channel.size(); ++i) {
            if (std::isfinite(channel[i])) continue;
            if (count++ == 0)
                first = fmt::format("sample {} of '{}' is {}", i, t.heard_jacks[c],
                                    std::isnan(channel[i]) ? "not a number" : "infinite");
        }
    }
    return count > 1 ? fmt::format("{}, and {} more samples are not finite", first, count - 1)
                     : first;
}

}  // namespace

void read_response(const std::filesystem::path& file, take& t) {
    std::error_code failed;
    if (!std::filesystem::exists(file, failed)) {
        t.problems.emplace_back("the program wrote no response");
        return;
    }
    try {
        // The form first: a program gone wild may have written far more than fits in memory.
        if (auto problem = form_problem(read_wave_format(file), t); !problem.empty()) {
            t.problems.push_back(std::move(problem));
            return;
        }
        t.heard = read_wave_file(file, t.heard_jacks.size()).channels;
    } catch (const wave_file_error& e) {
        t.problems.push_back(fmt::format("the response cannot be used: {}", e.reason()));
        return;
    }
    if (auto problem = finiteness_problem(t); !problem.empty())
        t.problems.push_back(std::move(problem));
}

bool is_all_zero(std::span<const std::vector<float>> channels) noexcept {
    return std::all_of(channels.begin(), channels.end(), [](const auto& channel) {
        return std::all_of(channel.begin(), channel.end(), [](float v) { return v == 0.0F; });
    });
}

}  // namespace cvrig
