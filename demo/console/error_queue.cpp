#include "demo/console/error_queue.hpp"

#include <array>
#include <string_view>
#include <utility>

namespace ferrule {
namespace {

using namespace scpi;

constexpr std::array<std::pair<int, std::string_view>, 11> texts{
    {{no_error, "No error"},
     {data_type_error, "Data type error"},
     {parameter_not_allowed, "Parameter not allowed"},
     {missing_parameter, "Missing parameter"},
     {undefined_header, "Undefined header"},
     {settings_conflict, "Settings conflict"},
     {data_out_of_range, "Data out of range"},
     {illegal_parameter_value, "Illegal parameter value"},
     {data_questionable, "Data questionable"},
     {system_error, "System error"},
     {queue_overflow, "Queue overflow"}}};

std::string entry(int number, const std::string& more) {
    std::string text = "Device-specific error";
    for (const auto& [known, words] : texts) {
        if (known == number) text = words;
    }
    if (!more.empty()) text += ";" + more;
    std::string quoted;
    for (const char c : text) quoted += c == '"' ? std::string{"\"\""} : std::string{c};
    return std::to_string(number) + ",\"" + quoted + "\"";
}

}  // namespace

void error_queue::add(int number, const std::string& more) {
    if (waiting_.size() < room) {
        waiting_.push_back(entry(number, more));
    } else {
        waiting_.back() = entry(queue_overflow, {});
    }
}

std::string error_queue::next() {
    if (waiting_.empty()) return entry(no_error, {});
    auto oldest = waiting_.front();
    waiting_.pop_front();
    return oldest;
}

int event_bit_of(int error) noexcept {
    if (error <= -100 && error > -200) return 32;
    if (error <= -200 && error > -300) return 16;
    if (error <= -400 && error > -500) return 4;
    return 8;
}

}  // namespace ferrule
