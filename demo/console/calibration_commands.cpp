#include "demo/console/calibration_commands.hpp"

#include "demo/console/parameter.hpp"

#include <cmath>

namespace ferrule {
namespace {

using words = std::vector<std::string>;

void add_plain(std::vector<command>& to, const std::string& pattern,
               const std::function<std::string()>& act) {
    to.push_back({pattern, 0, 0, [act](const words&) { return act(); }});
}

std::size_t point_parameter(const std::string& text) {
    const double point = number_parameter(text, 1.0, static_cast<double>(calibration_mode::points));
    return static_cast<std::size_t>(std::lround(point));
}

void add_procedure(std::vector<command>& to, calibration_mode& mode,
                   const calibrated_module& module) {
    add_plain(to, "CALibration:BEGin", [&mode, module] {
        mode.begin();
        module.mute(true);
        return "";
    });
    to.push_back({"CALibration:POINt", 1, 1, [&mode, module](const words& given) {
                      const auto point = point_parameter(given[0]);
                      mode.take_point(point, module.pitch_code(), module.habits());
                      module.mute(mode.is_on());
                      return std::string{};
                  }});
    to.push_back({"CALibration:POINt?", 1, 1, [&mode](const words& given) {
                      return number_answer(mode.code_of(point_parameter(given[0])));
                  }});
    add_plain(to, "CALibration:STORe", [&mode, module] {
        module.use(mode.finish(module.habits()));
        module.mute(false);
        return "";
    });
    add_plain(to, "CALibration:ABORt", [&mode, module] {
        mode.abandon();
        module.mute(false);
        return "";
    });
    add_plain(to, "CALibration:STATe?", [&mode] { return mode.state(); });
}

std::size_t table_parameter(const std::string& text) {
    const double point =
        number_parameter(text, 1.0, static_cast<double>(calibration::table_points));
    return static_cast<std::size_t>(std::lround(point)) - 1;
}

void add_table(std::vector<command>& to, const calibrated_module& module) {
    to.push_back({"CALibration:TABLe", 2, 2, [module](const words& given) {
                      constexpr double most_volts = 0.2;
                      auto now = module.constants();
                      now.table_volts[table_parameter(given[0])] =
                          number_parameter(given[1], -most_volts, most_volts);
                      module.use(now);
                      return std::string{};
                  }});
    to.push_back({"CALibration:TABLe?", 1, 1, [module](const words& given) {
                      return number_answer(
                          module.constants().table_volts[table_parameter(given[0])]);
                  }});
}

void add_constants(std::vector<command>& to, calibration_mode& mode,
                   const calibrated_module& module) {
    add_plain(to, "CALibration:RESTore", [&mode, module] {
        mode.abandon();
        module.mute(false);
        module.use(factory_calibration());
        return "";
    });
    to.push_back({"CALibration:CONStants", 2, 2, [module](const words& given) {
                      constexpr double most_volts = 1.0;
                      constexpr double most_off = 0.2;
                      const double nominal = calibration{}.slope_volts_per_code;
                      auto now = module.constants();
                      now.offset_volts = number_parameter(given[0], -most_volts, most_volts);
                      now.slope_volts_per_code = number_parameter(
                          given[1], nominal * (1.0 - most_off), nominal * (1.0 + most_off));
                      module.use(now);
                      return std::string{};
                  }});
    add_plain(to, "CALibration:CONStants?", [module] {
        const auto now = module.constants();
        return number_answer(now.offset_volts) + "," + number_answer(now.slope_volts_per_code);
    });
}

}  // namespace

void add_calibration_commands(std::vector<command>& to, calibration_mode& mode,
                              const calibrated_module& module) {
    add_procedure(to, mode, module);
    add_constants(to, mode, module);
    add_table(to, module);
}

}  // namespace ferrule
