#include <catch2/catch.hpp>
#include <cmath>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/expectations.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/expectations/nearest.hpp"

using namespace cvrig;
using Catch::Matchers::WithinAbs;

namespace {

void check_measure(std::string_view text, double v, dimension d) {
    INFO(text);
    const auto m = parse_measure(text);
    REQUIRE(m);
    CHECK(m->unit == d);
    CHECK_THAT(m->in_base_unit, WithinAbs(v, 1e-12 * std::abs(v)));  // rounding of one product
}

limit good(std::string_view text, dimension d) {
    INFO(text);
    const auto l = parse_limit(text, d, "key");
    if (!l) FAIL(l.error());
    return *l;
}

}  // namespace

TEST_CASE("measure: every unit is read into its base unit", "[rig][quantity]") {
    check_measure("-0.1 V", -0.1, dimension::volts);
    check_measure("1e-3V", 1e-3, dimension::volts);
    check_measure("0.2 mV", 2e-4, dimension::volts);
    check_measure("3 uV", 3e-6, dimension::volts);
    check_measure("3 \u00B5V", 3e-6, dimension::volts);    // micro sign
    check_measure("3 \u03BCs", 3e-6, dimension::seconds);  // Greek mu
    check_measure("48 kHz", 48000.0, dimension::hertz);
    check_measure("  22   ms ", 0.022, dimension::seconds);
    check_measure("5 ct", 5.0, dimension::cents);
    check_measure("1 semitone", 100.0, dimension::cents);
    check_measure("2 octaves", 2400.0, dimension::cents);
    check_measure("+3 dB", 3.0, dimension::decibels);
    check_measure(".5 %", 0.5, dimension::percent);
    check_measure("20 ppm", 0.002, dimension::percent);
    check_measure("4 dBu", 4.0, dimension::dbu);
    check_measure("7", 7.0, dimension::ratio);
}

TEST_CASE("measure: 0 dBV is 2.218 dBu", "[rig][quantity]") {
    // 1 V against the 0.7746 V of 1 mW in 600 ohm (common practice): 20 lg (1 / 0.7746) dB.
    const auto m = parse_measure("0 dBV");
    REQUIRE(m);
    CHECK_THAT(m->in_base_unit, WithinAbs(2.218, 0.0005));  // half the last printed digit
}

TEST_CASE("measure: what is no number with a known unit is refused", "[rig][quantity]") {
    for (const auto* text :
         {"",      " ",     "V",     "five V",  "5 parsec", "inf V", "nan s",   "0x10 V",
          "1,5 V", "--1 V", "+-1 V", "1e999 V", "1 V 2",    "C",     "C#",      "Cb#1",
          "c2",    "H2",    "C11",   "C2.5",    "C 2",      "5 mv",  "1 / 12 V"}) {
        INFO(text);
        CHECK_FALSE(parse_measure(text));
    }
}

TEST_CASE("note names: equal temperament from A4 = 440 Hz (ISO 16:1975)", "[rig][quantity]") {
    struct published {
        std::string_view name;
        double hz;
    };
    // The standard gives 440 Hz for A4; the others are its equal-tempered values, to six decimals.
    const auto row = GENERATE(
        published{"A4", 440.0}, published{"C0", 16.351598}, published{"C2", 65.406391},
        published{"C4", 261.625565}, published{"A#3", 233.081881}, published{"Bb3", 233.081881},
        published{"F#4", 369.994423}, published{"Gb4", 369.994423}, published{"G#5", 830.609395},
        published{"C8", 4186.009045}, published{"C-1", 8.175799}, published{"B#3", 261.625565},
        published{"Cb4", 246.941651}, published{"B3", 246.941651});
    INFO(row.name);
    const auto m = parse_measure(row.name);
    REQUIRE(m);
    CHECK(m->unit == dimension::hertz);
    CHECK_THAT(m->in_base_unit, WithinAbs(row.hz, 0.5e-6));  // half the last printed digit
}

TEST_CASE("pitch law: one octave for each volt from the reference", "[rig][quantity]") {
    const pitch_law law{volts{1.0}, hertz{65.406391}, volts{1.0}};
    CHECK_THAT(law.pitch(volts{1.0}).value(), WithinAbs(65.406391, 1e-9));
    CHECK_THAT(law.pitch(volts{3.0}).value(), WithinAbs(4 * 65.406391, 1e-9));
    CHECK_THAT(law.pitch(volts{0.0}).value(), WithinAbs(65.406391 / 2, 1e-9));
    // 1 mV at 1 V per octave is 1.2 cents: arithmetic.
    CHECK_THAT(law.per_volt(volts{0.001}).value(), WithinAbs(1.2, 1e-12));
    const pitch_law wide{volts{0.0}, hertz{100.0}, volts{1.2}};
    CHECK_THAT(wide.per_volt(volts{0.001}).value(), WithinAbs(1.0, 1e-12));
}

TEST_CASE("limit: every form gives its tolerance interval", "[rig][quantity]") {
    const auto sym = good("within 5 cent", dimension::cents);
    CHECK(sym.lower == -5.0);
    CHECK(sym.upper == 5.0);
    CHECK_FALSE(sym.nominal);
    const auto part = good("22 ms  within 10 %", dimension::seconds);
    CHECK_THAT(*part.lower, WithinAbs(0.0198, 1e-15));
    CHECK_THAT(*part.upper, WithinAbs(0.0242, 1e-15));
    CHECK(part.nominal == 0.022);
    CHECK(part.text == "22 ms within 10 %");
    const auto negative = good("-60 dB within 3 dB", dimension::decibels);
    CHECK(negative.lower == -63.0);
    CHECK(negative.upper == -57.0);
    const auto zero = good("0 V within 10 mV", dimension::volts);
    CHECK(zero.nominal == 0.0);
    const auto minus = good("-2 V within 10 %", dimension::volts);
    CHECK_THAT(*minus.lower, WithinAbs(-2.2, 1e-15));
    const auto range = good("between 3 and 8 dB", dimension::decibels);
    CHECK(range.lower == 3.0);
    CHECK(range.upper == 8.0);
    const auto most = good("at most 1 cent", dimension::cents);
    CHECK_FALSE(most.lower);
    CHECK(most.upper == 1.0);
    const auto least = good("at least -60 dB", dimension::decibels);
    CHECK(least.lower == -60.0);
    CHECK_FALSE(least.upper);
    CHECK(good("none", dimension::count).upper == 0.0);
    CHECK(good("exactly 3", dimension::count).lower == 3.0);
    CHECK(good("exactly 3", dimension::count).upper == 3.0);
    CHECK(good("at least 0.9", dimension::ratio).lower == 0.9);
}

TEST_CASE("limit: a percentage of a percentage is points", "[rig][quantity]") {
    const auto l = good("50 % within 10 %", dimension::percent);
    CHECK(l.lower == 40.0);
    CHECK(l.upper == 60.0);
}

TEST_CASE("limit: a frequency may be a note with cents about it", "[rig][quantity]") {
    const auto l = good("A4 within 100 cent", dimension::hertz);
    // A semitone down and up from 440 Hz in equal temperament, ISO 16:1975 (G#4 and A#4).
    CHECK_THAT(*l.lower, WithinAbs(415.304698, 0.5e-6));
    CHECK_THAT(*l.upper, WithinAbs(466.163762, 0.5e-6));
}

TEST_CASE("limit: in words it ends a sentence", "[rig][quantity]") {
    CHECK(in_words(good("within 5 cent", dimension::cents)) == "at most 5 cent either way");
    CHECK(in_words(good("22 ms within 10 %", dimension::seconds)) ==
          "between 19.8 ms and 24.2 ms (22 ms within 10 %)");
    CHECK(in_words(good("between 3 dB and 8 dB", dimension::decibels)) == "between 3 dB and 8 dB");
    CHECK(in_words(good("at most 500 us", dimension::seconds)) == "at most 500 \u00B5s");
    CHECK(in_words(good("at least 200 Hz", dimension::hertz)) == "at least 200 Hz");
    CHECK(in_words(good("none", dimension::count)) == "0");
    CHECK(in_words(good("exactly 2", dimension::count)) == "exactly 2");
}

TEST_CASE("show: a number gets the prefix that reads well", "[rig][quantity]") {
    CHECK(show(0.022, dimension::seconds) == "22 ms");
    CHECK(show(-0.0012, dimension::volts) == "-1.2 mV");
    CHECK(show(0.0, dimension::volts) == "0 V");
    CHECK(show(-0.0, dimension::cents) == "0 cent");
    CHECK(show(1.0, dimension::seconds) == "1 s");
    CHECK(show(0.99996, dimension::volts) == "1 V");
    CHECK(show(0.99994, dimension::volts) == "999.9 mV");
    CHECK(show(65.40639, dimension::hertz) == "65.41 Hz");
    CHECK(show(48000.0, dimension::hertz) == "48 kHz");
    CHECK(show(999.96, dimension::hertz) == "1 kHz");
    CHECK(show(1.5e-9, dimension::seconds) == "0.0015 \u00B5s");
    CHECK(show(12345.0, dimension::cents) == "12350 cent");
    CHECK(show(100.0, dimension::cents) == "100 cent");
    CHECK(show(3.0, dimension::count) == "3");
    CHECK(show(0.98765, dimension::ratio, 2) == "0.99");
    CHECK(show(0.3, dimension::percent) == "0.3 %");
    CHECK(show(-60.0, dimension::decibels) == "-60 dB");
    CHECK(show(std::nan(""), dimension::volts) == "no finite number V");
}

TEST_CASE("show: bytes known to the byte are whole", "[rig][quantity]") {
    CHECK(show(62.0 * 1024.0, 0.29, dimension::bytes) == "62 KiB \u00B1 1 B");
    CHECK(show(63489.0, 0.29, dimension::bytes) == "63489 B \u00B1 1 B");
    CHECK(show(0.0, 0.29, dimension::bytes) == "0 B \u00B1 1 B");
    CHECK(show(-2048.0, 0.29, dimension::bytes) == "-2 KiB \u00B1 1 B");
    CHECK(show(62.0 * 1024.0, 300.0, dimension::bytes) == "62.00 KiB \u00B1 0.29 KiB");
}

TEST_CASE("show: a value is rounded to the two digits of its uncertainty", "[rig][quantity]") {
    CHECK(show(0.022013, 0.000024, dimension::seconds) == "22.013 ms \u00B1 0.024 ms");
    CHECK(show(1.23456, 0.0996, dimension::cents) == "1.23 cent \u00B1 0.10 cent");
    CHECK(show(0.0, 0.5, dimension::cents) == "0.00 cent \u00B1 0.50 cent");
    CHECK(show(1234.0, 120.0, dimension::cents) == "1230 cent \u00B1 120 cent");
    CHECK(show(0.001, 1.0, dimension::volts) == "0.0 V \u00B1 1.0 V");
    CHECK(show(-0.004, 1.0, dimension::volts) == "0.0 V \u00B1 1.0 V");
    CHECK(show(5.0, 0.0, dimension::cents) == "5 cent \u00B1 0 cent");
    // JCGM 100:2008, 7.2.2: m_S = 100,021 47 g with u_c = 0,35 mg; here in millivolts.
    CHECK(show(0.10002147, 0.00000035, dimension::volts) == "100.02147 mV \u00B1 0.00035 mV");
}

TEST_CASE("nearest: the four kinds of slip that Damerau 1964 counts are one slip each",
          "[rig][quantity]") {
    CHECK(slips("tied", "tied") == 0);
    CHECK(slips("tied", "tid") == 1);
    CHECK(slips("tied", "tieed") == 1);
    CHECK(slips("tied", "tiad") == 1);
    CHECK(slips("tied", "tide") == 1);
    CHECK(slips("", "abc") == 3);
    CHECK(slips("kitten", "sitting") == 3);  // the textbook pair for edit distance
}

TEST_CASE("nearest: far words get no suggestion", "[rig][quantity]") {
    const std::vector<std::string> known{"tied", "struck", "wide"};
    CHECK(nearest("tide", known) == "tied");
    CHECK(nearest("STRUCK", known) == "struck");
    CHECK(nearest("str", known) == "struck");
    CHECK_FALSE(nearest("banana", known));
    CHECK_FALSE(nearest("", known));
    CHECK_FALSE(nearest("xy", known));
}
