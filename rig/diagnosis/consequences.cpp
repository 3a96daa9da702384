#include "rig/diagnosis/consequences.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cctype>
#include <string>
#include <string_view>

#include "rig/diagnosis/diagnosis.hpp"

namespace cvrig {

namespace {

/// A cause that one check names, and the demands of another that it reaches. Lists with commas.
struct connection {
    std::string_view root, causes, reached, demands;
};

constexpr std::string_view slide_times =
    "power of two,slide time,slide time by interval,second slide jumps,other law,overshoot,"
    "no slide,stops short,wrong start after an interruption,dead in one setting";
constexpr std::string_view pitches =
    "octave,jump,knee,pitch slope,pitch offset,offset and slope,top clipped,bottom clipped,drift,"
    "steps of the converter,old pitch kept,sample rate";

constexpr std::array connections{
    connection{"slide", "smeared steps", "tracking", "error,straightness,hysteresis,settling"},
    connection{"slide", "smeared steps", "latency", "pitch lead"},
    connection{"slide", "smeared steps", "pattern", "pitch,slid pitch,wrong steps"},
    connection{"slide", slide_times, "pattern", "slid pitch,wrong steps"},
    connection{"slide", "power of two,slide time", "slide range", "slide time"},
    connection{"tracking", pitches, "pattern", "pitch,slid pitch,wrong steps"},
    connection{"tracking", "pitch read too early,old pitch kept", "latency", "pitch lead"},
    connection{"tracking", "pitch read too early", "pattern", "pitch,slid pitch,wrong steps"},
    connection{"tracking", "sample rate", "slide range", "slide time"},
    connection{"retrigger",
               "slide strikes,slide does not strike,legato strikes,legato does not strike,"
               "filter envelope alone,amplitude envelope alone",
               "pattern", "slide,tie,accent,wrong steps"},
    connection{"accent",
               "accent one note late,accent not seen,accent's level,no build-up,"
               "accent never falls back",
               "pattern", "accent,wrong steps"},
    connection{"accent", "accent one note late", "level", "level,peak"},
    connection{"envelope", "filter decay,decay follows the gate's length,release time", "range",
               "shortest decay,longest decay"},
    connection{"stereo", "one output dead,one output quieter", "level", "level,peak"},
    connection{"gate", "threshold,short triggers missed", "pattern", "wrong steps,restarts"},
};

bool lists(std::string_view list, std::string_view word) {
    while (!list.empty()) {
        const auto comma = list.find(',');
        if (list.substr(0, comma) == word) return true;
        list = comma == std::string_view::npos ? std::string_view{} : list.substr(comma + 1);
    }
    return false;
}

bool explains_all(const connection& c, const check_result& reached) {
    return std::ranges::all_of(reached.findings, [&](const finding& f) {
        return f.outcome != verdict::fail || lists(c.demands, f.name);
    });
}

/// In how many settings two results differ that both hold.
std::ptrdiff_t difference(const check_result& a, const check_result& b) {
    return std::ranges::count_if(a.choice, [&](const auto& setting) {
        const auto other = b.choice.find(setting.first);
        return other != b.choice.end() && other->second != setting.second;
    });
}

/// The failed result of the root check that shares most settings, if it is diagnosed as the
/// connection says.
const check_result* root_of(const connection& c, const check_result& reached,
                            std::span<const check_result> all) {
    const check_result* nearest = nullptr;
    for (const auto& r : all) {
        if (r.check != c.root) continue;
        if (nearest == nullptr || difference(reached, r) < difference(reached, *nearest))
            nearest = &r;
    }
    if (nearest == nullptr || !nearest->likeliest) return nullptr;
    return lists(c.causes, nearest->likeliest->cause) ? nearest : nullptr;
}

std::string lower_first(std::string sentence) {
    if (sentence.size() > 1 && std::islower(static_cast<unsigned char>(sentence[1])) != 0)
        sentence[0] = static_cast<char>(std::tolower(static_cast<unsigned char>(sentence[0])));
    return sentence;
}

std::optional<diagnosis> consequence(const check_result& reached,
                                     std::span<const check_result> all) {
    for (const auto& c : connections) {
        if (c.reached != reached.check || !explains_all(c, reached)) continue;
        const auto* root = root_of(c, reached, all);
        if (root == nullptr) continue;
        return diagnosis{
            root->likeliest->cause,
            fmt::format("Follows from {}: {}", root->check, lower_first(root->likeliest->sentence)),
            root->check};
    }
    return std::nullopt;
}

}  // namespace

void name_consequences(std::span<check_result> results) {
    std::vector<std::pair<std::size_t, diagnosis>> found;
    for (std::size_t i = 0; i < results.size(); ++i) {
        if (!results[i].likeliest) continue;
        if (auto what = consequence(results[i], results)) found.emplace_back(i, std::move(*what));
    }
    for (auto& [i, what] : found) results[i].likeliest = std::move(what);
}

}  // namespace cvrig
