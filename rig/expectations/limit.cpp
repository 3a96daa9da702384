#include "rig/expectations/limit.hpp"

#include <fmt/format.h>

#include <cmath>
#include <optional>

#include "rig/expectations/baseline_limit.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

/// One text being read; every function returns empty if the text has another form.
class limit_reader {
public:
    limit_reader(std::string text, dimension unit, std::string_view key)
        : text_{std::move(text)}, want_{unit, key, std::string{example_limit(unit)}} {}

    parsed<limit> read() const {
        using form = std::optional<parsed<limit>> (limit_reader::*)() const;
        for (const form f :
             {&limit_reader::none, &limit_reader::exactly, &limit_reader::between,
              &limit_reader::at_most, &limit_reader::at_least, &limit_reader::within}) {
            if (auto found = (this->*f)()) return checked(std::move(*found));
        }
        return no_limit();
    }

private:
    bool counts() const { return want_.unit == dimension::count; }

    limit made(std::optional<double> lower, std::optional<double> upper,
               std::optional<double> nominal = {}) const {
        return {lower, upper, nominal, want_.unit, text_};
    }

    tl::unexpected<std::string> fail(std::string_view why) const {
        return tl::unexpected{fmt::format("{} {}.", quoted(text_), why)};
    }

    /// What follows `start`, if the text starts with it.
    std::optional<std::string_view> after(std::string_view start) const {
        if (!std::string_view{text_}.starts_with(start)) return std::nullopt;
        return std::string_view{text_}.substr(start.size());
    }

    std::optional<parsed<limit>> none() const {
        if (!counts() || text_ != "none") return std::nullopt;
        return made({}, 0.0);
    }

    std::optional<parsed<limit>> exactly() const {
        const auto rest = after("exactly ");
        if (!rest) return std::nullopt;
        if (!counts())
            return fail(
                "asks for an exact value, which no measurement can prove; "
                "write a nominal value and a tolerance, such as '" +
                want_.example + "'");
        return parse_quantity(*rest, want_).map([&](double v) { return made(v, v, v); });
    }

    std::optional<parsed<limit>> at_most() const {
        const auto rest = after("at most ");
        if (!rest) return std::nullopt;
        return parse_quantity(*rest, want_).and_then([&](double v) -> parsed<limit> {
            if (want_.unit == dimension::seconds && v < 0)
                return fail("is a time below 0, which cannot be");
            return made({}, v);
        });
    }

    std::optional<parsed<limit>> at_least() const {
        const auto rest = after("at least ");
        if (!rest) return std::nullopt;
        return parse_quantity(*rest, want_).map([&](double v) { return made(v, {}); });
    }

    std::optional<parsed<limit>> between() const {
        const auto rest = after("between ");
        const auto sides = rest ? split_pair(*rest, " and ") : std::nullopt;
        if (!sides) return std::nullopt;
        const auto low = parse_quantity(sides->first, want_);
        if (!low) return tl::unexpected{low.error()};
        const auto high = parse_quantity(sides->second, want_);
        if (!high) return tl::unexpected{high.error()};
        if (*low < *high) return made(*low, *high);
        return fail("leaves nothing to meet: the first value must be below the second");
    }

    std::optional<parsed<limit>> within() const {
        if (const auto rest = after("within ")) {
            return parse_quantity(*rest, want_).and_then([&](double v) { return about(0.0, v); });
        }
        const auto sides = split_pair(text_, " within ");
        if (!sides) return std::nullopt;
        const auto nominal = parse_quantity(sides->first, want_);
        if (!nominal) return tl::unexpected{nominal.error()};
        return around(*nominal, sides->second);
    }

    parsed<limit> about(double nominal, double tolerance) const {
        if (tolerance <= 0) return fail("needs a tolerance above 0");
        auto l = made(nominal - tolerance, nominal + tolerance);
        if (nominal != 0.0) l.nominal = nominal;
        return l;
    }

    /// "NOMINAL within TOLERANCE"; the tolerance may also be relative.
    parsed<limit> around(double nominal, const std::string& tolerance) const {
        if (want_.unit == dimension::seconds && nominal < 0)
            return fail("is a time below 0, which cannot be");
        const auto t = parse_measure(tolerance);
        if (t && t->unit == dimension::percent && want_.unit != dimension::percent) {
            return relative(nominal, t->in_base_unit);
        }
        if (t && t->unit == dimension::cents && want_.unit == dimension::hertz) {
            return detuned(nominal, t->in_base_unit);
        }
        return parse_quantity(tolerance, want_).and_then([&](double v) {
            auto l = about(nominal, v);
            if (l) l->nominal = nominal;
            return l;
        });
    }

    parsed<limit> relative(double nominal, double percent) const {
        if (want_.unit == dimension::decibels || want_.unit == dimension::dbu) {
            return fail(
                "takes a percentage of a level in dB, which means nothing; "
                "give the tolerance in dB");
        }
        if (nominal == 0.0) return fail("takes a percentage of 0; give the tolerance with a unit");
        return about(nominal, std::abs(nominal) * percent / 100.0);
    }

    parsed<limit> detuned(double nominal, double tolerance_cents) const {
        if (nominal <= 0) return fail("is not a frequency above 0");
        if (tolerance_cents <= 0) return fail("needs a tolerance above 0");
        const hertz f{nominal};
        return made(raised(f, cents{-tolerance_cents}).value(),
                    raised(f, cents{tolerance_cents}).value(), nominal);
    }

    /// Whole counts from 0 up only.
    parsed<limit> checked(parsed<limit> l) const {
        if (!l || !counts()) return l;
        for (const auto side : {l->lower, l->upper, l->nominal}) {
            if (side && (*side < 0 || *side != std::floor(*side))) {
                return fail("must name a whole number from 0 up");
            }
        }
        return l;
    }

    parsed<limit> no_limit() const {
        const auto alone = parse_quantity(text_, want_);
        if (alone) {
            return tl::unexpected{fmt::format(
                "{} alone is no limit for {}; write how it limits the reading, such as '{}'.",
                quoted(text_), quoted(want_.key), want_.example)};
        }
        if (split_number(text_)) return tl::unexpected{alone.error()};
        return tl::unexpected{fmt::format(
            "{} is not a limit for {} (one of: within X, N within X, between A and B, at most A, "
            "at least A{}), such as '{}'.",
            quoted(text_), quoted(want_.key), counts() ? ", exactly N, none" : "", want_.example)};
    }

    std::string text_;
    wanted want_;
};

}  // namespace

parsed<limit> parse_limit(std::string_view text, dimension unit, std::string_view key) {
    return limit_reader{squeezed(text), unit, key}.read();
}

std::string in_words(const limit& l) {
    if (l.lacks_baseline()) return in_words(*l.of_baseline, l.unit);
    if (!l.lower && !l.upper) return "anything";
    if (!l.lower && l.unit == dimension::count && *l.upper == 0.0) return "0";
    if (!l.lower) return "at most " + show(*l.upper, l.unit);
    if (!l.upper) return "at least " + show(*l.lower, l.unit);
    if (*l.lower == *l.upper) return "exactly " + show(*l.lower, l.unit);
    if (!l.nominal && *l.lower == -*l.upper) {
        return "at most " + show(*l.upper, l.unit) + " either way";
    }
    const auto range =
        fmt::format("between {} and {}", show(*l.lower, l.unit), show(*l.upper, l.unit));
    return l.nominal ? fmt::format("{} ({})", range, l.text) : range;
}

}  // namespace cvrig
