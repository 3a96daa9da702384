#include "rig/report/json_parts.hpp"

#include <cmath>

#include "rig/report/text.hpp"

namespace cvrig::report {

using json = nlohmann::ordered_json;

json json_number(double x) {
    return std::isfinite(x) ? json(x) : json(nullptr);
}

json json_lines(const std::vector<std::string>& all) {
    json list = json::array();
    for (const auto& text : all) list.push_back(one_line(text));
    return list;
}

json json_settings(const setting_choice& choice) {
    json all = json::object();
    for (const auto& [name, chosen] : choice) all[one_line(name)] = one_line(chosen);
    return all;
}

}  // namespace cvrig::report
