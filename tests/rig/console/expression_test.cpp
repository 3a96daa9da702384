#include "rig/expectations/expression.hpp"

#include <rapidcheck.h>
#include <catch2/catch.hpp>
#include <chrono>

using namespace cvrig;

namespace {

std::optional<std::vector<std::string>> match(const std::string& text, const std::string& line) {
    const auto e = expression::parse(text);
    REQUIRE(e.has_value());
    return e->match(line);
}

}  // namespace

TEST_CASE("an expression must match the whole line and gives its groups", "[console][expression]") {
    // ECMA-262, third edition, 15.10.2.3, 15.10.2.5 and 15.10.2.8: the examples of the standard.
    CHECK(match("((a)|(ab))((c)|(bc))", "abc") ==
          std::vector<std::string>{"a", "a", "", "bc", "", "bc"});
    CHECK(match("a[a-z]{2,4}", "abcdefghi") == std::nullopt);
    CHECK(match("a[a-z]{2,4}", "abcde").has_value());
    CHECK(match("[+]?0,\"No error\"", "0,\"No error\"").has_value());
    CHECK(match("[+]?0,\"No error\"", "+0,\"No error\"").has_value());
    CHECK(match("[+]?0,\"No error\"", "-113,\"Undefined header\"") == std::nullopt);
    CHECK(match("x*yes", "yes").has_value());
    CHECK(match("a|yes", "yes").has_value());
    CHECK(match("no?", "n").has_value());
}

TEST_CASE("what is no expression is refused in words", "[console][expression]") {
    const auto why = [](const std::string& text) {
        const auto e = expression::parse(text);
        return e ? std::string{} : e.error();
    };
    CHECK(why("[ab") == "a square bracket '[' is not closed, or ']' not opened");
    CHECK(why("(ab") == "a parenthesis '(' is not closed, or ')' not opened");
    CHECK(why("*a") == "a '*', '+', '?' or '{' has nothing to repeat");
    CHECK(why("(a)\\1") == "it refers back to a group, which is not possible here");
    CHECK(why("") == "it is empty");
    CHECK(why(std::string(501, 'a')) == "it is longer than 500 characters");
    CHECK(why("a\\\\1").empty());  // a backslash, then a 1
}

TEST_CASE("no line makes matching explode", "[console][expression]") {
    // A matcher that tries one alternative after the other needs 2^28 steps here, and a recursive
    // one a deep stack for the long line.
    CHECK(match("(a+)+b", std::string(28, 'a')) == std::nullopt);
    CHECK(match("(.|x)*", std::string(4096, 'a')).has_value());
}

TEST_CASE("text in either case matches itself and nothing else", "[console][expression]") {
    CHECK(rc::check([] {
        const auto text = *rc::gen::nonEmpty(rc::gen::container<std::string>(
            rc::gen::element('a', 'Z', '9', ' ', '.', '*', '(', '[', '\\', '-', '+')));
        RC_PRE(text.size() < 40);
        auto swapped = text;
        for (auto& c : swapped) c = c == 'a' ? 'A' : c == 'Z' ? 'z' : c;
        const auto e = expression::parse(either_case(text));
        RC_ASSERT(e.has_value());
        RC_ASSERT(e->match(text).has_value());
        RC_ASSERT(e->match(swapped).has_value());
        RC_ASSERT(!e->match(text + "x").has_value());
    }));
}
