#include "demo/live/console_commands.hpp"

#include "demo/console/calibration_commands.hpp"
#include "demo/console/mnemonic.hpp"
#include "demo/console/parameter.hpp"

#include <array>
#include <cmath>

namespace ferrule {
namespace {

using words = std::vector<std::string>;

constexpr std::array<std::string_view, 3> mode_words{"TIED", "STRuck", "WIDE"};
constexpr std::array<std::string_view, 3> wave_words{"SAW", "BLENd", "SQUare"};
constexpr std::array<std::string_view, 2> cable_words{"OUT", "IN"};
constexpr std::array<std::string_view, 3> route_words{"BOTH", "LEFT", "RIGHt"};
constexpr double most_seconds = 1e6;

/// A command and its query over one value that is one of some words.
template <typename Value>
void add_choice(std::vector<command>& to, const std::string& header,
                std::span<const std::string_view> mnemonics, std::function<Value()> read,
                std::function<void(Value)> write) {
    to.push_back({header, 1, 1, [=](const words& given) {
                      write(static_cast<Value>(word_parameter(given[0], mnemonics)));
                      return std::string{};
                  }});
    to.push_back({header + "?", 0, 0, [=](const words&) {
                      return short_form(mnemonics[static_cast<std::size_t>(read())]);
                  }});
}

void add_switches(std::vector<command>& to, bass_module& module) {
    add_choice<mode>(
        to, "VOICe:MODE", mode_words, [&module] { return module.set().mode; },
        [&module](mode which) {
            auto set = module.set();
            set.mode = which;
            module.change(set);
        });
    add_choice<waveform>(
        to, "VOICe:WAVE", wave_words, [&module] { return module.set().waveform; },
        [&module](waveform which) {
            auto set = module.set();
            set.waveform = which;
            module.change(set);
        });
    add_choice<route>(
        to, "OUTPut:ROUTe", route_words, [&module] { return module.route(); },
        [&module](route which) { module.change(which); });
}

double knob_position(const std::string& text) {
    if (is_mnemonic("DOWN", text) || is_mnemonic("MINimum", text)) return 0.0;
    if (is_mnemonic("HALF", text)) return 0.5;
    if (is_mnemonic("UP", text) || is_mnemonic("MAXimum", text)) return 1.0;
    return number_parameter(text, 0.0, 1.0);
}

void add_knobs(std::vector<command>& to, bass_module& module) {
    struct knob {
        const char* header;
        double settings::*position;
    };
    constexpr std::array<knob, 4> knobs{{{"KNOB:CUToff", &settings::cutoff_knob},
                                         {"KNOB:RESonance", &settings::resonance_knob},
                                         {"KNOB:DECay", &settings::decay_knob},
                                         {"KNOB:SLIDe", &settings::slide_knob}}};
    for (const auto& [header, position] : knobs) {
        to.push_back({header, 1, 1, [&module, position = position](const words& given) {
                          auto set = module.set();
                          set.*position = knob_position(given[0]);
                          module.change(set);
                          return std::string{};
                      }});
        to.push_back(
            {std::string{header} + "?", 0, 0, [&module, position = position](const words&) {
                 return number_answer(module.set().*position);
             }});
    }
}

void add_plain(std::vector<command>& to, const std::string& pattern,
               const std::function<std::string()>& act) {
    to.push_back({pattern, 0, 0, [act](const words&) { return act(); }});
}

void add_calibration(std::vector<command>& to, bass_module& module) {
    add_calibration_commands(
        to, module.calibrating(),
        {.pitch_code = [&module] { return module.measure_pitch_code(); },
         .constants = [&module] { return module.stored(); },
         .use = [&module](const calibration& constants) { module.use(constants); },
         .mute = [&module](bool on) { module.mute(on); },
         .habits = [&module]() -> const calibration_habits& { return module.habits(); }});
}

absence absence_of(const words& given, std::size_t first, absence by_default) {
    if (given.size() > first) {
        by_default.away_seconds = number_parameter(given[first], 0.0, most_seconds);
    }
    if (given.size() > first + 1) by_default.new_name = string_parameter(given[first + 1]);
    return by_default;
}

void add_system(std::vector<command>& to, bass_module& module, console_wishes& wishes,
                const absence& flash) {
    add_plain(to, "*IDN?", [&module] { return module.identity(); });
    add_plain(to, "*TST?", [] { return "0"; });
    add_plain(to, "*RST", [&module] {
        module.reset_settings();
        return "";
    });
    add_plain(to, "SYSTem:LOAD?",
              [&module] { return number_answer(std::round(module.load_percent() * 10.0) / 10.0); });
    add_plain(to, "SYSTem:MEMory?", [] { return std::to_string(bass_module::free_bytes()); });
    add_plain(to, "SYSTem:REBoot", [&wishes] {
        wishes.reboot = true;
        return "";
    });
    to.push_back({"SYSTem:FLASh", 0, 2, [&wishes, flash](const words& given) {
                      wishes.flash = absence_of(given, 0, flash);
                      return std::string{};
                  }});
}

bool switch_parameter(const std::string& text) {
    constexpr std::array<std::string_view, 4> positions{"OFF", "ON", "0", "1"};
    return word_parameter(text, positions) % 2 == 1;
}

void add_diagnostics(std::vector<command>& to, bass_module& module, console_wishes& wishes) {
    const auto add = [&to](const std::string& pattern, std::size_t most,
                           const std::function<void(const words&)>& act) {
        to.push_back({pattern, 1, most, [act](const words& given) {
                          act(given);
                          return std::string{};
                      }});
    };
    add("DIAGnostic:BABBle", 1,
        [&wishes](const words& given) { wishes.faults.babbles = switch_parameter(given[0]); });
    add("DIAGnostic:MUTE", 1, [&wishes](const words& given) {
        wishes.faults.mute_after = static_cast<int>(number_parameter(given[0], 0.0, most_seconds));
    });
    add("DIAGnostic:RESet", 1, [&module, &wishes](const words& given) {
        wishes.faults.reset_after_seconds =
            module.seconds() + number_parameter(given[0], 0.0, most_seconds);
    });
    add("DIAGnostic:GONE", 3, [&module, &wishes](const words& given) {
        absence gone = absence_of(given, 1, {});
        gone.after_seconds = module.seconds() + number_parameter(given[0], 0.0, most_seconds);
        wishes.faults.gone = gone;
    });
    // No firmware pulls its own cable: this stands for the hand that the live demo does not have.
    add("DIAGnostic:CABLe", 1, [&module](const words& given) {
        auto set = module.set();
        set.cutoff_cable_in = word_parameter(given[0], cable_words) == 1;
        module.change(set);
    });
    add("DIAGnostic:STALl", 1,
        [&module](const words& given) { module.stall(number_parameter(given[0], 0.0, 10.0)); });
    add("DIAGnostic:FAULt", 1,
        [&module](const words& given) { module.add_fault_now(string_parameter(given[0])); });
    add_plain(to, "DIAGnostic:FAULt:CLEar", [&module] {
        module.clear_faults_now();
        return "";
    });
}

}  // namespace

std::vector<command> console_commands(bass_module& module, console_wishes& wishes,
                                      const absence& flash) {
    std::vector<command> all;
    add_switches(all, module);
    add_knobs(all, module);
    add_calibration(all, module);
    add_system(all, module, wishes, flash);
    add_diagnostics(all, module, wishes);
    return all;
}

}  // namespace ferrule
