#include "rig/fleet/record_json.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <cmath>
#include <initializer_list>
#include <nlohmann/json.hpp>
#include <regex>
#include <utility>

namespace cvrig {

namespace {

using nlohmann::json;
using nlohmann::ordered_json;

constexpr std::string_view format_line = "cvrig tracking 1";

constexpr std::array<std::pair<constants_in_force, std::string_view>, 3> words{
    {{constants_in_force::unknown, "unknown"},
     {constants_in_force::by_default, "default"},
     {constants_in_force::own, "own"}}};

/// What is wrong with a file, on its way out of the depths of it.
struct unfit {
    std::string what;
};

/// One object of the file, of which every key must be asked for.
class object {
public:
    object(const json& all, std::string name, std::initializer_list<std::string_view> known)
        : all_{all}, name_{std::move(name)} {
        if (!all.is_object()) throw unfit{fmt::format("{} is no object", name_)};
        for (const auto& [key, ignored] : all.items())
            if (std::ranges::find(known, key) == known.end())
                throw unfit{fmt::format("{} has an unknown key '{}'", name_, key)};
    }

    [[nodiscard]] bool has(const char* key) const { return all_.contains(key); }

    [[nodiscard]] const json& at(const char* key) const {
        const auto found = all_.find(key);
        if (found == all_.end()) throw unfit{fmt::format("{} has no '{}'", name_, key)};
        return *found;
    }
    [[nodiscard]] std::string text(const char* key) const {
        const auto& v = at(key);
        if (!v.is_string()) throw unfit{fmt::format("'{}' of {} is no text", key, name_)};
        return v.get<std::string>();
    }
    [[nodiscard]] std::string some_text(const char* key) const {
        auto v = text(key);
        if (v.empty()) throw unfit{fmt::format("'{}' of {} is empty", key, name_)};
        return v;
    }
    [[nodiscard]] double number(const char* key) const {
        const auto& v = at(key);
        if (!v.is_number() || !std::isfinite(v.get<double>()))
            throw unfit{fmt::format("'{}' of {} is no number", key, name_)};
        return v.get<double>();
    }
    [[nodiscard]] double uncertainty(const char* key) const {
        const double u = number(key);
        if (u < 0.0) throw unfit{fmt::format("'{}' of {} is below 0", key, name_)};
        return u;
    }
    [[nodiscard]] bool yes_or_no(const char* key) const {
        const auto& v = at(key);
        if (!v.is_boolean())
            throw unfit{fmt::format("'{}' of {} is not true or false", key, name_)};
        return v.get<bool>();
    }

private:
    const json& all_;
    std::string name_;
};

setting_choice settings_from(const json& all) {
    if (!all.is_object()) throw unfit{"'settings' is no object"};
    setting_choice choice;
    for (const auto& [name, chosen] : all.items()) {
        if (!chosen.is_string()) throw unfit{fmt::format("the setting '{}' is no text", name)};
        choice[name] = chosen.get<std::string>();
    }
    return choice;
}

tracked_note note_from(const json& all) {
    const object note{all, "a note", {"at_volts", "error_cents", "u_cents", "upward"}};
    return {.at_volts = note.number("at_volts"),
            .error_cents = note.number("error_cents"),
            .u_cents = note.uncertainty("u_cents"),
            .upward = note.yes_or_no("upward")};
}

std::vector<tracked_note> notes_from(const json& all) {
    if (!all.is_array()) throw unfit{"'notes' is no list"};
    if (all.empty()) throw unfit{"it holds no notes"};
    std::vector<tracked_note> notes;
    for (const auto& one : all) notes.push_back(note_from(one));
    return notes;
}

pitch_constants constants_from(const json& all) {
    const object c{all, "'constants'", {"offset_volts", "gain_volts_per_code"}};
    const pitch_constants out{c.number("offset_volts"), c.number("gain_volts_per_code")};
    if (out.gain_volts_per_code == 0.0) throw unfit{"'gain_volts_per_code' is 0"};
    return out;
}

constants_in_force in_force_from(const std::string& word) {
    const auto found = std::ranges::find(words, word, [](const auto& w) { return w.second; });
    if (found == words.end())
        throw unfit{fmt::format("'constants_in_force' is '{}', not default, own or unknown", word)};
    return found->first;
}

/// Records are put in order by this text, so it must have the one form in which that is their time.
std::string time_from(std::string text) {
    static const std::regex utc{"[0-9]{4}-[0-9]{2}-[0-9]{2}T[0-9]{2}:[0-9]{2}:[0-9]{2}Z"};
    if (!std::regex_match(text, utc))
        throw unfit{fmt::format("'started' is '{}', not like 2026-01-31T12:00:00Z", text)};
    return text;
}

tracking_record record_from(const json& all) {
    if (!all.is_object() || all.value("format", json{}) != format_line)
        throw unfit{fmt::format("its format is not '{}'", format_line)};
    const object o{all,
                   "the record",
                   {"format", "module", "unit", "build", "build_sha256", "bench", "started",
                    "rig_version", "occasion", "settings", "constants_in_force", "constants",
                    "volts_per_octave", "u_common_cents", "notes"}};
    tracking_record r;
    r.module = o.some_text("module");
    r.unit = o.some_text("unit");
    r.build = o.some_text("build");
    r.build_sha256 = o.text("build_sha256");
    r.bench = o.text("bench");
    r.started = time_from(o.text("started"));
    r.rig_version = o.text("rig_version");
    r.occasion = o.some_text("occasion");
    r.choice = settings_from(o.at("settings"));
    r.in_force = in_force_from(o.text("constants_in_force"));
    if (o.has("constants")) r.constants = constants_from(o.at("constants"));
    r.volts_per_octave = o.number("volts_per_octave");
    if (r.volts_per_octave == 0.0) throw unfit{"'volts_per_octave' is 0"};
    r.u_common_cents = o.uncertainty("u_common_cents");
    r.notes = notes_from(o.at("notes"));
    return r;
}

}  // namespace

std::string json_of(const tracking_record& r) {
    auto notes = ordered_json::array();
    for (const auto& n : r.notes)
        notes.push_back({{"at_volts", n.at_volts},
                         {"error_cents", n.error_cents},
                         {"u_cents", n.u_cents},
                         {"upward", n.upward}});
    const auto in_force =
        std::ranges::find(words, r.in_force, [](const auto& w) { return w.first; });
    ordered_json all{{"format", format_line},
                     {"module", r.module},
                     {"unit", r.unit},
                     {"build", r.build},
                     {"build_sha256", r.build_sha256},
                     {"bench", r.bench},
                     {"started", r.started},
                     {"rig_version", r.rig_version},
                     {"occasion", r.occasion},
                     {"settings", r.choice},
                     {"constants_in_force", in_force->second}};
    if (r.constants)
        all["constants"] = {{"offset_volts", r.constants->offset_volts},
                            {"gain_volts_per_code", r.constants->gain_volts_per_code}};
    all["volts_per_octave"] = r.volts_per_octave;
    all["u_common_cents"] = r.u_common_cents;
    all["notes"] = std::move(notes);
    return all.dump(2, ' ', false, ordered_json::error_handler_t::replace) + "\n";
}

parsed_record parse_record(std::string_view text) {
    const auto all = json::parse(text, nullptr, false);
    if (all.is_discarded()) return {{}, "it is no whole JSON text"};
    try {
        return {record_from(all), {}};
    } catch (const unfit& why) {
        return {{}, why.what};
    }
}

}  // namespace cvrig
