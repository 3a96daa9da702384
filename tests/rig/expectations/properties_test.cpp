#include <rapidcheck/catch.h>

#include <array>
#include <cmath>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/expectations/nearest.hpp"
#include "tests/rig/expectations/files.hpp"

using namespace cvrig;

namespace {

constexpr std::array with_units{dimension::volts,   dimension::hertz,    dimension::seconds,
                                dimension::cents,   dimension::decibels, dimension::dbu,
                                dimension::percent, dimension::ratio};

/// A number of any size that files could hold, from 1e-9 to 1e9, either sign.
double some_number() {
    const double exponent = *rc::gen::inRange(-9000, 9000) / 1000.0;
    return (*rc::gen::arbitrary<bool>() ? 1.0 : -1.0) * std::pow(10.0, exponent);
}

dimension some_dimension() {
    return with_units[*rc::gen::inRange<std::size_t>(0, with_units.size())];
}

/// Text that is mostly YAML, so that it gets far into the parser.
std::string some_yaml() {
    static const std::vector<std::string> pieces{"format: cvrig expectations 1\n",
                                                 "checks:",
                                                 "  tracking:",
                                                 "in: ",
                                                 "{",
                                                 "}",
                                                 "[",
                                                 "]",
                                                 ": ",
                                                 ":",
                                                 "- ",
                                                 "\n",
                                                 "\n  ",
                                                 "\n    ",
                                                 ",",
                                                 "\"",
                                                 "'",
                                                 "|",
                                                 ">",
                                                 "?",
                                                 "&a ",
                                                 "*a",
                                                 "!t ",
                                                 "#",
                                                 "---",
                                                 "...",
                                                 "%",
                                                 "@",
                                                 "`",
                                                 "\\",
                                                 "within 5 cent",
                                                 "0 V to 1 V",
                                                 "mode",
                                                 "tied",
                                                 "~",
                                                 "null",
                                                 "\t",
                                                 "\xC2\xB5",
                                                 "\xFF",
                                                 "1e9 V",
                                                 "pitch",
                                                 "notes",
                                                 "<<",
                                                 "=",
                                                 "\r\n"};
    const auto picks = *rc::gen::container<std::vector<std::size_t>>(
        rc::gen::inRange<std::size_t>(0, pieces.size()));
    std::string text;
    for (const auto i : picks) text += pieces[i];
    return text;
}

/// Reads both ways; anything but a value or user_error escapes and fails the test.
void read_both(const std::string& bytes) {
    static_cast<void>(complaints_about_expectations(bytes));
    static_cast<void>(complaints_about_bench(bytes));
}

}  // namespace

TEST_CASE("property: a shown number reads back as itself", "[rig][quantity]") {
    rc::prop("parse_measure(show(x)) is x", [] {
        const double x = some_number();
        const auto d = some_dimension();
        const auto m = parse_measure(show(x, d, 15));
        RC_ASSERT(m.has_value());
        RC_ASSERT(m->unit == d);
        // Fifteen digits leave half a unit of the fifteenth.
        RC_ASSERT(std::abs(m->in_base_unit - x) <= 6e-15 * std::abs(x));
    });
}

TEST_CASE("property: a number shown with few digits is that close", "[rig][quantity]") {
    rc::prop("show rounds to its digits", [] {
        const double x = some_number();
        const auto d = some_dimension();
        const int digits = *rc::gen::inRange(1, 8);
        const auto m = parse_measure(show(x, d, digits));
        RC_ASSERT(m.has_value());
        RC_ASSERT(std::abs(m->in_base_unit - x) <=
                  0.5000001 * std::pow(10.0, 1 - digits) * std::abs(x));
    });
}

TEST_CASE("property: limits read back what they were written from", "[rig][quantity]") {
    rc::prop("between A and B", [] {
        const auto d = some_dimension();
        const double a = some_number();
        const double b = some_number();
        RC_PRE(std::abs(a - b) > 1e-12 * (std::abs(a) + std::abs(b)));
        const auto low = show(std::min(a, b), d, 15);
        const auto high = show(std::max(a, b), d, 15);
        const auto l = parse_limit("between " + low + " and " + high, d, "key");
        RC_ASSERT(l.has_value());
        RC_ASSERT(l->lower == parse_measure(low)->in_base_unit);
        RC_ASSERT(l->upper == parse_measure(high)->in_base_unit);
        RC_ASSERT(in_words(*l).starts_with("between ") || std::abs(a + b) == 0.0);
    });
}

TEST_CASE("property: slips are symmetric, 0 only for equal words, and at most the longer length",
          "[rig][quantity]") {
    rc::prop("slips", [](const std::string& a, const std::string& b) {
        RC_ASSERT(slips(a, b) == slips(b, a));
        RC_ASSERT((slips(a, b) == 0) == (a == b));
        RC_ASSERT(slips(a, b) <= std::max(a.size(), b.size()));
    });
}

TEST_CASE("property: random bytes give a value or user_error, never anything else",
          "[rig][expectations]") {
    rc::prop("bytes", [](const std::string& bytes) { read_both(bytes); });
}

TEST_CASE("property: random YAML gives a value or user_error, never anything else",
          "[rig][expectations]") {
    rc::prop("YAML pieces", [] { read_both(some_yaml()); });
}

TEST_CASE("property: a good file with a piece cut out or put in is answered, never crashed on",
          "[rig][expectations]") {
    const auto good = data_text("expectations/complete.yaml");
    rc::prop("a cut and a splice", [&] {
        auto text = good;
        const auto at = *rc::gen::inRange<std::size_t>(0, text.size());
        text.erase(at, *rc::gen::inRange<std::size_t>(0, 40));
        text.insert(*rc::gen::inRange<std::size_t>(0, text.size() + 1), some_yaml());
        read_both(text);
    });
}

TEST_CASE("property: every complaint is one line, ends as a sentence and has its file",
          "[rig][expectations]") {
    const auto good = data_text("expectations/complete.yaml");
    rc::prop("sentences", [&] {
        auto text = good;
        text.insert(*rc::gen::inRange<std::size_t>(0, text.size() + 1), some_yaml());
        for (const auto& said : complaints_about_expectations(text)) {
            RC_ASSERT(said.find('\n') == std::string::npos);
            RC_ASSERT(said.back() == '.' || said.back() == '?');
        }
    });
}
