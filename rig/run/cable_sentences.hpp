#pragma once

#include <cstddef>
#include <functional>
#include <map>
#include <string>
#include <vector>

#include "rig/bench/bench.hpp"

/// Wrong cables in words.
namespace cvrig::patching {

/// A cable that was found: from an output to the jack that is meant for another output, or for it.
/// Both by their places in the bench file, from 0.
struct cable {
    std::size_t output;
    std::size_t jack_of;
    friend bool operator==(const cable&, const cable&) = default;
};

/// One sentence for each exchange, round of mixed-up cables, wrong or second cable; none if all is
/// right. `was_heard`: whether it is known that an output does not reach its own jack where no such
/// cable was found.
[[nodiscard]] std::vector<std::string> sentences_about(
    const bench& b, const std::vector<cable>& found,
    const std::function<bool(std::size_t output)>& was_heard);

/// The same for the cables from the module: each recorded jack, and the inputs (by their jacks in
/// the bench file) at which it alone was heard. `is_silent`: whether it has been said of that
/// jack's input that it hears nothing at all.
[[nodiscard]] std::vector<std::string> sentences_about_inputs(
    const bench& b, const std::map<std::string, std::vector<std::string>>& heard_at,
    const std::function<bool(const std::string& jack)>& is_silent);

/// "a", "a and b", "a, b and c".
[[nodiscard]] std::string list_of(const std::vector<std::string>& words);

}  // namespace cvrig::patching
