#include "demo/console/instrument.hpp"

#include "demo/console/mnemonic.hpp"
#include "demo/console/parameter.hpp"

#include <algorithm>
#include <cmath>
#include <utility>

namespace ferrule {
namespace {

// The standard event status register and the status byte, IEEE 488.2-1992, 11.5.1 and 11.2.
constexpr int operation_complete = 1;
constexpr int power_was_off = 128;
constexpr int error_waits = 4;
constexpr int answer_waits = 16;
constexpr int event_summary = 32;
constexpr int service_request = 64;

bool is_common(const std::string& header) {
    return header.starts_with('*');
}

}  // namespace

instrument::instrument(std::vector<command> own) : commands_{std::move(own)} {
    add_common_commands();
    add_status_commands();
    power_on();
}

void instrument::power_on() {
    errors_.clear();
    events_ = power_was_off;
    events_enabled_ = service_enabled_ = operation_enabled_ = questionable_enabled_ = 0;
}

void instrument::add_register(const std::string& header, int& mask, int most) {
    commands_.push_back({header, 1, 1, [&mask, most](const auto& given) {
                             mask = static_cast<int>(
                                 std::lround(number_parameter(given[0], 0.0, most)));
                             return std::string{};
                         }});
    commands_.push_back(
        {header + "?", 0, 0, [&mask](const auto&) { return std::to_string(mask); }});
}

void instrument::add_common_commands() {
    const auto add = [this](const std::string& pattern, const std::function<std::string()>& act) {
        commands_.push_back({pattern, 0, 0, [act](const auto&) { return act(); }});
    };
    add("*CLS", [this] {
        errors_.clear();
        events_ = 0;
        return "";
    });
    add("*ESR?", [this] { return std::to_string(std::exchange(events_, 0)); });
    add("*STB?", [this] { return std::to_string(status_byte()); });
    add("*OPC", [this] {
        events_ |= operation_complete;
        return "";
    });
    add("*OPC?", [] { return "1"; });
    add("*WAI", [] { return ""; });
    add("SYSTem:ERRor[:NEXT]?", [this] { return errors_.next(); });
    add("SYSTem:ERRor:COUNt?", [this] { return std::to_string(errors_.size()); });
    add("SYSTem:VERSion?", [] { return "1999.0"; });
    constexpr int whole_byte = 255;
    add_register("*ESE", events_enabled_, whole_byte);
    add_register("*SRE", service_enabled_, whole_byte);
}

/// Nothing in this module is an operation that lasts or a signal that is questionable, so these
/// registers, which SCPI-99 wants (volume 1, 4.2.1.2), stay at 0.
void instrument::add_status_commands() {
    constexpr int fifteen_bits = 32767;
    for (const auto& [node, mask] : {std::pair{"STATus:OPERation", &operation_enabled_},
                                     std::pair{"STATus:QUEStionable", &questionable_enabled_}}) {
        const std::string header = node;
        for (const auto* const reading : {"[:EVENt]?", ":CONDition?"}) {
            commands_.push_back({header + reading, 0, 0, [](const auto&) { return "0"; }});
        }
        add_register(header + ":ENABle", *mask, fifteen_bits);
    }
    commands_.push_back({"STATus:PRESet", 0, 0, [this](const auto&) {
                             operation_enabled_ = questionable_enabled_ = 0;
                             return std::string{};
                         }});
}

int instrument::status_byte() const noexcept {
    int byte = 0;
    if (errors_.size() > 0) byte |= error_waits;
    if (!answers_.empty()) byte |= answer_waits;
    if ((events_ & events_enabled_) != 0) byte |= event_summary;
    if ((byte & service_enabled_) != 0) byte |= service_request;
    return byte;
}

void instrument::report(int number, const std::string& more) {
    errors_.add(number, more);
    events_ |= event_bit_of(number);
}

/// A header without a leading colon begins where the one before it ended, at its last node
/// (SCPI-99, volume 1, 6.2.4); common commands leave that place alone.
std::vector<std::string> instrument::path_of(const message_unit& unit) {
    if (is_common(unit.header)) return {unit.header};
    const bool from_root = unit.header.starts_with(':');
    auto words = split_at_colons(std::string_view{unit.header}.substr(from_root ? 1 : 0));
    if (!from_root) words.insert(words.begin(), path_.begin(), path_.end());
    path_.assign(words.begin(), words.end() - 1);
    return words;
}

const command& instrument::find(const message_unit& unit) {
    const auto path = path_of(unit);
    for (const auto& known : commands_) {
        std::string_view pattern = known.pattern;
        if (pattern.ends_with('?') != unit.query) continue;
        if (unit.query) pattern.remove_suffix(1);
        if (is_header(pattern, path)) return known;
    }
    throw command_error(scpi::undefined_header);
}

void instrument::obey_unit(const message_unit& unit) {
    const command& known = find(unit);
    if (unit.parameters.size() > known.most_parameters) {
        throw command_error(scpi::parameter_not_allowed);
    }
    if (unit.parameters.size() < known.fewest_parameters) {
        throw command_error(scpi::missing_parameter);
    }
    const auto answer = known.act(unit.parameters);
    if (answer.empty()) return;
    answers_ += (answers_.empty() ? "" : ";") + answer;
}

std::string instrument::obey(std::string_view line) {
    path_.clear();
    answers_.clear();
    for (const auto& unit : read_message(line)) {
        try {
            obey_unit(unit);
        } catch (const command_error& error) {
            report(error.number(), error.what());
        }
    }
    return std::exchange(answers_, {});
}

}  // namespace ferrule
