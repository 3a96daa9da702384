#pragma once

#include <string>
#include <string_view>

#include "rig/expectations/dimension.hpp"
#include "rig/expectations/settings.hpp"
#include "rig/run/verdict.hpp"

/// How a history spells verdicts, quantities and settings. What it holds and nobody could have
/// written means that the file is damaged: store_error.
namespace cvrig::history {

/// A choice of settings as one text: equal choices are equal texts. JSON (RFC 8259).
[[nodiscard]] std::string text_of(const setting_choice& choice);
[[nodiscard]] setting_choice settings_in(std::string_view text);

[[nodiscard]] verdict verdict_in(std::string_view word);
[[nodiscard]] dimension quantity_in(std::string_view word);

}  // namespace cvrig::history
