#pragma once

#include <optional>
#include <string>
#include <vector>

#include "rig/expectations/dimension.hpp"

namespace cvrig {

/// One key that a check understands in the expectation file.
struct key_spec {
    /// limit: "within 5 cent"; word: one of `words`; measure: "0.4 s"; stair: {from, to, every,
    /// order}; steps: [0 V to 1 V, ...]; regions: {flash: {from, size, used}, ...}; pattern: a
    /// regular expression; setting: the name of a declared setting.
    enum class form { limit, word, measure, stair, steps, regions, pattern, setting };

    std::string name;  ///< as written in the file, e.g. "time constant"
    form kind{form::limit};
    dimension unit{dimension::ratio};  ///< of a limit or measure
    std::vector<std::string> words{};  ///< allowed words
    std::string meaning{};  ///< completes "demands that ..." or says what a parameter sets
    bool required{false};
    bool only_upper{false};  ///< of a limit: "none" and "at most ..." are all that it may say
    /// Of a limit: it is set against every single event, so that it cannot follow a baseline, which
    /// has one reading for all of them.
    bool for_each_event{false};
    std::optional<double> most{};  ///< of a measure: the largest value that is taken

    /// Whether it demands something of the module, or says how to look.
    [[nodiscard]] bool is_demand() const noexcept {
        return kind == form::limit || kind == form::word || kind == form::regions ||
               kind == form::pattern;
    }
};

/// A family of measurements as the expectation file sees it.
struct check_spec {
    std::string name;
    std::string plays;  ///< one phrase: what is played
    std::string reads;  ///< one phrase: what is read
    std::vector<key_spec> keys;
    /// False of a check that is judged by facts: no setting changes what it sees.
    bool hears{true};
    /// Of a check that compares one value of a setting with its others: the key that names the
    /// setting. It may be left out where 'in' varies one setting alone.
    std::string compares{};
    /// CV jacks that it moves, which the file must declare.
    std::vector<std::string> moves{};
    /// Of how it measures: goes up by one with every change after which older readings do not
    /// compare with new ones.
    int measurement_version{1};
};

}  // namespace cvrig
