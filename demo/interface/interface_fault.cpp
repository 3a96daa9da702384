#include "demo/interface/interface_fault.hpp"

#include "demo/text.hpp"
#include "demo/user_mistake.hpp"

namespace ferrule {
namespace {

// clang-format off
constexpr std::array<desk_fault_description, desk_fault_count> faults{{
    {desk_fault::gain, "gain", "percent", -10,
     "louder by this: a soft volume control"},
    {desk_fault::inverted, "inverted", "1=present", 1,
     "high is low"},
    {desk_fault::cold_leg_shorted, "cold-leg-shorted", "1=present", 1,
     "a balanced output in a mono plug: half the voltage"},
    {desk_fault::mixer, "mixer", "percent", 10,
     "a soft mixer adds this share of every other channel, and of a foreign tone of 1 V"},
    {desk_fault::crosstalk, "crosstalk", "percent", 5,
     "adds this share of the channel before"},
    {desk_fault::resample, "resample", "ppm", 900,
     "plays this much faster through a resampler, which rings at edges; -81250 is 44.1 kHz at 48"},
    {desk_fault::delay, "delay", "samples", 100,
     "everything comes this much later"},
    {desk_fault::drop, "drop", "samples", 64,
     "loses so many samples once a second"},
    {desk_fault::drop_once, "drop-once", "samples", 64,
     "loses so many samples once, half a second after the channel first moves"},
    {desk_fault::repeat, "repeat", "samples", 64,
     "plays so many samples twice once a second"},
    {desk_fault::repeat_once, "repeat-once", "samples", 64,
     "plays so many samples twice once, half a second after the channel first moves"},
    {desk_fault::ac_coupled, "ac-coupled", "seconds", 0.1,
     "a capacitor in the way: a held voltage dies away with this time constant"},
    {desk_fault::offset, "offset", "volts", 0.1,
     "adds this voltage"},
    {desk_fault::hum, "hum", "volts", 0.1,
     "adds mains hum of 50 Hz with its second and third harmonic, peak of the fundamental"},
    {desk_fault::noise, "noise", "volts", 0.01,
     "adds hiss, rms"},
    {desk_fault::clip, "clip", "volts", 2,
     "goes no further than this either way"},
}};
// clang-format on

constexpr bool in_order() {
    for (std::size_t i = 0; i < desk_fault_count; ++i) {
        if (static_cast<std::size_t>(faults[i].which) != i) return false;
    }
    return true;
}
static_assert(in_order(), "the table follows the enumeration");

desk_fault fault_named(std::string_view name) {
    std::string known;
    for (const auto& one : faults) {
        if (one.name == name) return one.which;
        known += (known.empty() ? "" : ", ") + std::string{one.name};
    }
    throw user_mistake("There is no fault \"" + std::string{name} +
                       "\" of the interface; those are " + known + ".");
}

/// "out", "in_3": calls `each` with every side and channel of it.
template <typename Each>
void for_place(std::string_view place, const Each& each) {
    bool met = false;
    for (const auto side : {desk_side::out, desk_side::in}) {
        const std::string word = side == desk_side::out ? "out" : "in";
        for (std::size_t i = 0; i < desk_channels; ++i) {
            if (!place.empty() && place != word && place != word + "_" + std::to_string(i + 1)) {
                continue;
            }
            each(side, i);
            met = true;
        }
    }
    if (met) return;
    throw user_mistake("\"" + std::string{place} +
                       "\" is no place in the interface; say out, in, out_1 to out_8 or in_1 to "
                       "in_8.");
}

}  // namespace

std::span<const desk_fault_description> all_desk_faults() noexcept {
    return faults;
}

void add_desk_fault(desk_faults& into, std::string_view text) {
    const auto colon = text.find(':');
    const auto subject = text.substr(0, colon);
    const auto at = subject.find('@');
    const auto name = subject.substr(0, at);
    const desk_fault which = fault_named(name);
    if (colon == std::string_view::npos) {
        throw user_mistake("The fault " + std::string{name} + " needs a magnitude, such as " +
                           std::string{name} + ":1.");
    }
    const double magnitude = number_of(name, text.substr(colon + 1), -1e6, 1e6);
    const auto place = at == std::string_view::npos ? "" : subject.substr(at + 1);
    for_place(place,
              [&](desk_side side, std::size_t index) { into.set(which, side, index, magnitude); });
}

}  // namespace ferrule
