#include "demo/console/instrument.hpp"
#include "demo/console/mnemonic.hpp"
#include "demo/console/parameter.hpp"

#include <array>
#include <catch2/catch.hpp>
#include <string>

using Catch::Matchers::WithinAbs;

// Sources: IEEE Std 488.2-1992 (common commands, status registers, message syntax) and SCPI-99
// (header tree, errors), where a test does not say otherwise.

namespace {

struct bench_meter {
    double level = 0.25;
    ferrule::instrument console{{
        {"*IDN?", 0, 0, [](const auto&) { return "maker,model,1,2.0"; }},
        {"SOURce:LEVel", 1, 1,
         [this](const auto& given) {
             level = ferrule::number_parameter(given[0], 0.0, 1.0);
             return std::string{};
         }},
        {"SOURce:LEVel?", 0, 0, [this](const auto&) { return ferrule::number_answer(level); }},
        {"SOURce:SHAPe[:NEXT]?", 0, 0, [](const auto&) { return "SAW"; }},
    }};
};

}  // namespace

TEST_CASE("a mnemonic has two forms, in any case, and none between", "[demo][console]") {
    struct row {
        const char* mnemonic;
        const char* word;
        bool same;
    };
    const auto tried = GENERATE(row{"SYSTem", "SYST", true}, row{"SYSTem", "system", true},
                                row{"SYSTem", "SysTem", true}, row{"SYSTem", "SYSTE", false},
                                row{"SYSTem", "SYS", false}, row{"SYSTem", "SYSTEMS", false},
                                row{"UP", "up", true}, row{"UP", "U", false});
    CAPTURE(tried.mnemonic, tried.word);
    CHECK(ferrule::is_mnemonic(tried.mnemonic, tried.word) == tried.same);
}

TEST_CASE("a header may leave out its optional nodes and no others", "[demo][console]") {
    using ferrule::is_header;
    CHECK(is_header("SYSTem:ERRor[:NEXT]", {"SYST", "ERR"}));
    CHECK(is_header("SYSTem:ERRor[:NEXT]", {"system", "error", "next"}));
    CHECK_FALSE(is_header("SYSTem:ERRor[:NEXT]", {"SYST", "NEXT"}));
    CHECK_FALSE(is_header("SYSTem:ERRor[:NEXT]", {"SYST"}));
    CHECK_FALSE(is_header("SYSTem:ERRor[:NEXT]", {"SYST", "ERR", "COUN"}));
}

TEST_CASE("every mandatory common command of IEEE 488.2 is understood", "[demo][console]") {
    bench_meter meter;
    for (const auto* line : {"*CLS", "*ESE 0", "*ESE?", "*ESR?", "*IDN?", "*OPC", "*OPC?", "*SRE 0",
                             "*SRE?", "*STB?", "*WAI"}) {
        meter.console.obey(line);
        CAPTURE(line);
        CHECK(meter.console.obey("SYST:ERR?") == "0,\"No error\"");
    }
    CHECK(meter.console.obey("SYSTem:VERSion?") == "1999.0");
}

TEST_CASE("an unknown header sets the bits of a command error", "[demo][console]") {
    bench_meter meter;
    meter.console.obey("*CLS;*SRE 255;*ESE 32");
    CHECK(meter.console.obey("ABCD").empty());
    // Error queue 4, event summary 32, request for service 64.
    CHECK(meter.console.obey("*STB?") == "100");
    CHECK(meter.console.obey("*ESR?") == "32");
    CHECK(meter.console.obey("*STB?") == "68");
    CHECK(meter.console.obey("*ESR?") == "0");
    CHECK(meter.console.obey("SYST:ERR:COUN?") == "1");
    CHECK(meter.console.obey("SYST:ERR?") == "-113,\"Undefined header\"");
    CHECK(meter.console.obey("SYST:ERR?") == "0,\"No error\"");
    CHECK(meter.console.obey("*STB?") == "0");
}

TEST_CASE("each mistake has its number, and does nothing else", "[demo][console]") {
    struct row {
        const char* line;
        const char* number;
        int event_bit;
    };
    // Numbers and classes: SCPI-99, volume 2, 21.8.9 and 21.8.10.
    const auto tried = GENERATE(row{"IDN?", "-113,", 32}, row{"SYSTE:ERR?", "-113,", 32},
                                row{"SOUR:LEV 0.5,1", "-108,", 32}, row{"*OPC? 1", "-108,", 32},
                                row{"SOUR:LEV", "-109,", 32}, row{"*ESE", "-109,", 32},
                                row{"SOUR:LEV loud", "-104,", 32}, row{"SOUR:LEV 2", "-222,", 16},
                                row{"*SRE 256", "-222,", 16}, row{"*ESE -1", "-222,", 16});
    bench_meter meter;
    meter.console.obey("*CLS");
    CAPTURE(tried.line);
    CHECK(meter.console.obey(tried.line).empty());
    CHECK(meter.console.obey("*ESR?") == std::to_string(tried.event_bit));
    CHECK_THAT(meter.console.obey("SYST:ERR?"), Catch::StartsWith(tried.number));
    CHECK_THAT(meter.level, WithinAbs(0.25, 0.0));
}

TEST_CASE("several commands share a line, and answers share one with semicolons",
          "[demo][console]") {
    bench_meter meter;
    CHECK(meter.console.obey("*IDN?;*OPC?") == "maker,model,1,2.0;1");
    // SCPI-99, volume 1, 6.2.4: without a colon, at the node of the command before.
    CHECK(meter.console.obey("SOUR:LEV 0.5;LEV?;SHAPE?") == "0.5;SAW");
    CHECK(meter.console.obey("SOUR:LEV?;*OPC?;LEV?") == "0.5;1;0.5");
    CHECK(meter.console.obey("SOUR:LEV?;:SYST:VERS?") == "0.5;1999.0");
    CHECK(meter.console.obey(":SOUR:SHAP:NEXT? ; ;").compare("SAW") == 0);
    CHECK(meter.console.obey("SYST:ERR?") == "0,\"No error\"");
    CHECK(meter.console.obey("SOUR:LEV?;SOUR:LEV?") == "0.5");
    CHECK_THAT(meter.console.obey("SYST:ERR?"), Catch::StartsWith("-113,"));
}

TEST_CASE("an answer that waits is seen in the status byte", "[demo][console]") {
    bench_meter meter;
    meter.console.obey("*CLS");
    CHECK(meter.console.obey("*IDN?;*STB?") == "maker,model,1,2.0;16");
    CHECK(meter.console.obey("*STB?") == "0");
}

TEST_CASE("switching on and finishing are events", "[demo][console]") {
    bench_meter meter;
    CHECK(meter.console.obey("*ESR?") == "128");
    meter.console.obey("*OPC");
    CHECK(meter.console.obey("*ESR?") == "1");
    meter.console.obey("*ESE 4;XYZZY");
    meter.console.power_on();
    CHECK(meter.console.obey("*ESE?;*ESR?;:SYST:ERR?") == "0;128;0,\"No error\"");
}

TEST_CASE("a full queue keeps the old and ends with -350", "[demo][console]") {
    ferrule::error_queue queue;
    const auto room = static_cast<int>(ferrule::error_queue::room);
    for (int i = 0; i < room + 3; ++i) queue.add(ferrule::scpi::undefined_header);
    for (int i = 0; i + 1 < room; ++i) CHECK(queue.next() == "-113,\"Undefined header\"");
    CHECK(queue.next() == "-350,\"Queue overflow\"");
    CHECK(queue.next() == "0,\"No error\"");
}

TEST_CASE("numbers come in every form of IEEE 488.2", "[demo][console]") {
    struct row {
        const char* text;
        double value;
    };
    // 7.7.2 (decimal) and 7.7.4 (non-decimal numeric program data).
    const auto tried =
        GENERATE(row{"12", 12.0}, row{"+1.50", 1.5}, row{"-1.500E-03", -0.0015}, row{".5", 0.5},
                 row{"#H20", 32.0}, row{"#Q40", 32.0}, row{"#B100000", 32.0}, row{"#hff", 255.0});
    CAPTURE(tried.text);
    // One rounding of a decimal fraction.
    CHECK_THAT(ferrule::number_parameter(tried.text, -1000.0, 1000.0),
               WithinAbs(tried.value, 1e-15));
}

TEST_CASE("what is no number is refused", "[demo][console]") {
    for (const auto* text : {"", "x", "1x", "#HG", "#B2", "#", "1e999", "nan", "--1", "#H-1"}) {
        CAPTURE(text);
        CHECK_THROWS_AS(ferrule::number_parameter(text, -1e300, 1e300), ferrule::command_error);
    }
}

// IEEE 488.2-1992, 7.7.5.2: a quote within a string is doubled.
TEST_CASE("strings stand between quotes of either kind", "[demo][console]") {
    CHECK(ferrule::string_parameter("\"ab\"\"c\"") == "ab\"c");
    CHECK(ferrule::string_parameter("'it''s'") == "it's");
    CHECK_THROWS_AS(ferrule::string_parameter("bare"), ferrule::command_error);
    CHECK(ferrule::read_message("A \"x;y,z\",2;B?").size() == 2);
    CHECK(ferrule::read_message("A \"x;y,z\",2")[0].parameters.size() == 2);
}

TEST_CASE("the registers that SCPI wants besides are there and quiet", "[demo][console]") {
    bench_meter meter;
    CHECK(meter.console.obey("STAT:OPER?;OPER:COND?;ENAB?") == "0;0;0");
    CHECK(meter.console.obey("STAT:QUES:ENAB 5;ENAB?") == "5");
    meter.console.obey("STAT:PRES");
    CHECK(meter.console.obey("STATus:QUEStionable:ENABle?;:STAT:QUES:EVEN?") == "0;0");
}
