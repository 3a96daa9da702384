#include "rig/history/told_words.hpp"

#include <fmt/format.h>

#include <nlohmann/json.hpp>

#include "rig/history/database.hpp"
#include "rig/report/phrases.hpp"

namespace cvrig::history {

namespace {

[[noreturn]] void refuse(std::string_view what) {
    throw store_error{fmt::format(
        "The history says '{}' where cvrig writes no such thing; it is damaged: keep a copy, and "
        "name a new one with --history.",
        what)};
}

}  // namespace

std::string text_of(const setting_choice& choice) {
    return nlohmann::json(choice).dump(-1, ' ', false, nlohmann::json::error_handler_t::replace);
}

setting_choice settings_in(std::string_view text) {
    const auto all = nlohmann::json::parse(text, nullptr, false);
    if (!all.is_object()) refuse(text);
    setting_choice out;
    for (const auto& [name, chosen] : all.items())
        if (chosen.is_string()) out[name] = chosen.get<std::string>();
    return out;
}

verdict verdict_in(std::string_view word) {
    for (const auto v : {verdict::pass, verdict::fail, verdict::unsure, verdict::skipped})
        if (in_words(v) == word) return v;
    refuse(word);
}

dimension quantity_in(std::string_view word) {
    const auto found = report::dimension_named(word);
    if (!found) refuse(word);
    return *found;
}

}  // namespace cvrig::history
