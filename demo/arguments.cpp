#include "demo/arguments.hpp"

#include "demo/choices.hpp"
#include "demo/flash.hpp"
#include "demo/text.hpp"

#include <algorithm>

namespace ferrule {
namespace {

constexpr choices<jack, jack_count> jacks{{{"pitch", jack::pitch},
                                           {"gate", jack::gate},
                                           {"accent", jack::accent},
                                           {"slide", jack::slide},
                                           {"cutoff", jack::cutoff},
                                           {"decay", jack::decay}}};
constexpr choices<output, output_count> outputs{{{"left", output::left}, {"right", output::right}}};

template <typename Value, std::size_t Count>
std::vector<Value> choose_several(const choices<Value, Count>& from, std::string_view name,
                                  std::string_view values) {
    std::vector<Value> chosen;
    for (const auto& value : split_at_commas(values)) {
        const Value next = choose(from, name, value);
        if (std::find(chosen.begin(), chosen.end(), next) != chosen.end()) {
            throw user_mistake("The " + std::string{name} + " " + value + " is named twice.");
        }
        chosen.push_back(next);
    }
    if (chosen.empty()) throw user_mistake("No " + std::string{name} + " is named.");
    return chosen;
}

void read_argument(arguments& into, std::string_view name, std::string_view value) {
    if (name == "jacks") {
        into.wires.jacks = choose_several(jacks, "jack", value);
    } else if (name == "outputs") {
        into.wires.outputs = choose_several(outputs, "output", value);
    } else if (name == "unit") {
        into.unit = static_cast<std::uint32_t>(number_of(name, value, 1.0, 1e9));
    } else if (name == "seed") {
        into.seed = static_cast<std::uint64_t>(number_of(name, value, 0.0, 1e15));
    } else if (name == "fault") {
        add_fault(into.image.faults, value);
    } else if (!read_setting(into.set, name, value)) {
        throw user_mistake(
            "There is no argument \"" + std::string{name} +
            "\"; those of a module are mode, waveform, cutoff knob, resonance knob, "
            "decay knob, slide knob, cutoff cable, unit, state, image, fault, seed, jacks and "
            "outputs.");
    }
}

/// The files come first: what an argument says overrides what a file says.
bool read_file(arguments& into, std::string_view name, std::string_view value) {
    if (name == "state") {
        into.state = value;
        const auto kept = read_flash(into.state);
        into.set = kept.set;
        into.stored = kept.stored;
        return true;
    }
    if (name == "image") {
        into.image = read_image(value);
        return true;
    }
    return false;
}

}  // namespace

arguments parse_arguments(std::span<const std::string> words) {
    arguments asked;
    std::vector<std::pair<std::string, std::string>> others;
    for (const auto& word : words) {
        auto pair = split_at_equals(word);
        if (!read_file(asked, pair.first, pair.second)) others.push_back(std::move(pair));
    }
    for (const auto& [name, value] : others) read_argument(asked, name, value);
    return asked;
}

std::string identity_of(const arguments& asked) {
    const auto number = std::to_string(asked.unit);
    const std::string zeros(number.size() < 4 ? 4 - number.size() : 0, '0');
    return "cvrig demo,Ferrule," + zeros + number + "," + asked.image.version;
}

module_plan plan_of(const arguments& asked, double rate_hertz) {
    return {make_specimen(asked.unit), asked.stored, asked.set,
            asked.image.faults,        rate_hertz,   asked.seed};
}

}  // namespace ferrule
