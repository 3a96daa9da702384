#include <fmt/format.h>

#include <array>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

std::optional<diagnosis> diagnose_range(const evidence& e) {
    constexpr std::array causes{
        one_demand{
            "sound afterwards", "dies at the extremes",
            "After resonance and cutoff were at their highest no sound comes back: the filter "
            "ran away to something that is no number."},
        one_demand{
            "level afterwards", "not itself after the extremes",
            "After the extremes the same note differs by {}: the filter does not come back to "
            "what it was."},
        one_demand{"cutoff rises", "control not monotonic",
                   "Somewhere the cutoff falls while its CV rises: a wrong table, or an overflow."},
        one_demand{"dead zone", "dead zone",
                   "In {} of the CV's range nothing moves: the range of the converter, or a table "
                   "that is clipped."},
        one_demand{
            "reads as", "unplugged jack floats",
            "With its cable pulled the jack reads as {}: the unplugged input is not held at 0 V."},
        one_demand{
            "adds up", "knob and jack do not add",
            "Knob and jack together are {} off their sum: one takes the place of the other."},
        one_demand{"knob is worth", "knob's worth", "The knob is worth {}: its share is wrong."},
        one_demand{"octaves per volt", "slope of the control",
                   "The cutoff moves by {} octaves for each volt: the slope is wrong, and with it "
                   "both ends."},
        one_demand{"smallest cutoff", "lower end",
                   "The cutoff goes down to {}: the lower end is off."},
        one_demand{"largest cutoff", "upper end",
                   "The cutoff goes up to {}: the upper end is off."},
        one_demand{"shortest decay", "shortest decay", "The shortest decay is {}."},
        one_demand{"longest decay", "longest decay", "The longest decay is {}."},
        one_demand{"slide time", "slide time at one end",
                   "At this end of the knob a slide takes {}."},
    };
    return first_of(e, causes);
}

}  // namespace cvrig
