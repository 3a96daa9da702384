#include "demo/arguments.hpp"

#include "demo/flash.hpp"
#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

#include <array>
#include <string_view>
#include <utility>

namespace ferrule {
namespace {

template <typename Value, std::size_t Count>
using choices = std::array<std::pair<std::string_view, Value>, Count>;

constexpr choices<mode, 3> modes{
    {{"tied", mode::tied}, {"struck", mode::struck}, {"wide", mode::wide}}};
constexpr choices<waveform, 3> waveforms{
    {{"saw", waveform::saw}, {"blend", waveform::blend}, {"square", waveform::square}}};
constexpr choices<jack, jack_count> jacks{{{"pitch", jack::pitch},
                                           {"gate", jack::gate},
                                           {"accent", jack::accent},
                                           {"slide", jack::slide},
                                           {"cutoff", jack::cutoff},
                                           {"decay", jack::decay}}};
constexpr choices<output, output_count> outputs{{{"left", output::left}, {"right", output::right}}};

template <typename Value, std::size_t Count>
Value choose(const choices<Value, Count>& from, std::string_view name, std::string_view value) {
    std::string known;
    for (const auto& [word, meaning] : from) {
        if (word == value) return meaning;
        known += (known.empty() ? "" : ", ") + std::string{word};
    }
    throw user_mistake("There is no " + std::string{name} + " \"" + std::string{value} +
                       "\"; choose one of " + known + ".");
}

template <typename Value, std::size_t Count>
std::vector<Value> choose_several(const choices<Value, Count>& from, std::string_view name,
                                  std::string_view values) {
    std::vector<Value> chosen;
    for (const auto& value : split_at_commas(values)) chosen.push_back(choose(from, name, value));
    if (chosen.empty()) throw user_mistake("No " + std::string{name} + " is named.");
    return chosen;
}

double slide_knob_of(std::string_view value) {
    return value == "down" ? 0.0 : number_of("slide knob", value, 0.0, 1.0);
}

bool read_setting(settings& into, std::string_view name, std::string_view value) {
    if (name == "mode") {
        into.mode = choose(modes, name, value);
    } else if (name == "waveform") {
        into.waveform = choose(waveforms, name, value);
    } else if (name == "cutoff knob") {
        into.cutoff_knob = number_of(name, value, 0.0, 1.0);
    } else if (name == "resonance knob") {
        into.resonance_knob = number_of(name, value, 0.0, 1.0);
    } else if (name == "decay knob") {
        into.decay_knob = number_of(name, value, 0.0, 1.0);
    } else if (name == "slide knob") {
        into.slide_knob = slide_knob_of(value);
    } else {
        return false;
    }
    return true;
}

void read_argument(arguments& into, std::string_view name, std::string_view value) {
    if (read_setting(into.set, name, value)) return;
    if (name == "jacks") {
        into.wires.jacks = choose_several(jacks, "jack", value);
    } else if (name == "outputs") {
        into.wires.outputs = choose_several(outputs, "output", value);
    } else if (name == "unit") {
        into.unit = static_cast<std::uint32_t>(number_of(name, value, 1.0, 1e9));
    } else if (name == "seed") {
        into.seed = static_cast<std::uint64_t>(number_of(name, value, 0.0, 1e15));
    } else if (name == "state") {
        into.state = value;
    } else if (name == "image") {
        into.image = value;
    } else {
        throw user_mistake("There is no argument \"" + std::string{name} + "\".");
    }
}

}  // namespace

arguments parse_arguments(std::span<const std::string> words) {
    arguments asked;
    for (const auto& word : words) {
        const auto [name, value] = split_at_equals(word);
        read_argument(asked, name, value);
    }
    return asked;
}

module_plan plan_of(const arguments& asked, double rate_hertz) {
    module_plan plan;
    plan.unit = make_specimen(asked.unit);
    plan.set = asked.set;
    plan.rate_hertz = rate_hertz;
    plan.seed = asked.seed;
    if (!asked.state.empty()) plan.stored = read_flash(asked.state).stored;
    return plan;
}

}  // namespace ferrule
