#include <algorithm>
#include <catch2/catch.hpp>
#include <pugixml.hpp>

#include "rig/bench/wiring.hpp"
#include "rig/report/wiring_svg.hpp"
#include "rig/report/wiring_text.hpp"

namespace {

using namespace cvrig;

driven_jack jack(const char* name, bool is_gate = false, volts high = volts{4.0}) {
    driven_jack out;
    out.name = name;
    out.is_gate = is_gate;
    out.high = high;
    return out;
}

template <class Channel>
Channel channel(const char* to, std::size_t number, const char* socket = "") {
    Channel out;
    out.jack = to;
    out.channel = number;
    out.socket = socket;
    return out;
}

module_expectations a_module() {
    module_expectations m;
    m.module = "Ferrule";
    m.drive = {jack("pitch"), jack("gate", true, volts{5.0})};
    m.listen = {"left", "right"};
    return m;
}

bench a_bench() {
    bench b;
    b.name = "desk";
    b.audio.emplace().device = "eight by eight";
    b.outputs = {channel<bench_output>("pitch", 3, "OUT 3"), channel<bench_output>("gate", 1)};
    b.inputs = {channel<bench_input>("left", 2, "LINE 2"), channel<bench_input>("right", 1)};
    auto& loop = b.loop.emplace();
    loop.output_channel = 8;
    loop.input_channel = 7;
    auto& console = b.console.emplace();
    console.how = console_settings::way::usb;
    console.vendor_id = 0x1209;
    console.product_id = 0x5a22;
    return b;
}

bool any_has(const std::vector<std::string>& all, const std::string& what) {
    return std::any_of(all.begin(), all.end(),
                       [&](const auto& s) { return s.find(what) != std::string::npos; });
}

std::size_t count_of(const pugi::xml_node& in, const char* query) {
    return in.select_nodes(query).size();
}

TEST_CASE("wiring: every cable is listed from socket to jack and back", "[wiring]") {
    const auto card = wiring_of(a_bench(), a_module());
    REQUIRE(card.wires.size() == 6);
    CHECK(card.wires[0].from == "OUT 3");
    CHECK(card.wires[0].to == "pitch");
    CHECK(card.wires[0].carries == "0 V to 4 V");
    CHECK(card.wires[1].from == "output 1");
    CHECK(card.wires[1].carries == "0 V or 5 V");
    CHECK(card.wires[2].from == "left");
    CHECK(card.wires[2].to == "LINE 2");
    CHECK(card.wires[3].to == "input 1");
    CHECK(card.wires[4].what == wire::kind::loop_back);
    CHECK(card.wires[4].from == "output 8");
    CHECK(card.wires[4].to == "input 7");
    CHECK(card.wires[5].from == "USB 1209:5a22");
    CHECK(card.notes.empty());
}

// Common practice, no source: what goes wrong at such a bench before the first note.
TEST_CASE("wiring: the usual cautions are there", "[wiring]") {
    const auto cautions = wiring_of(a_bench(), a_module()).cautions;
    for (const auto* word : {"ribbon", "polarity", "headphones", "DC", "0 V", "cold leg",
                             "10 V peak to peak", "licensed"})
        CHECK(any_has(cautions, word));
}

TEST_CASE("wiring: what is missing or stays unplugged is said", "[wiring]") {
    auto m = a_module();
    m.drive.push_back(jack("accent"));
    m.listen.push_back("aux");
    auto b = a_bench();
    b.outputs.push_back(channel<bench_output>("cutoff", 5));
    b.loop.reset();
    const auto notes = wiring_of(b, m).notes;
    CHECK(any_has(notes, "No output of this bench feeds jack accent."));
    CHECK(any_has(notes, "No input of this bench hears jack aux."));
    CHECK(any_has(notes, "output 5 stays unplugged: Ferrule has no jack cutoff."));
    CHECK(any_has(notes, "no loop-back cable"));
}

TEST_CASE("wiring: a bench that plays into a program has no cables and no picture", "[wiring]") {
    auto b = a_bench();
    b.audio.reset();
    const auto card = wiring_of(b, a_module());
    CHECK_FALSE(card.has_cables());
    CHECK(any_has(card.notes, "there is nothing to plug"));
    CHECK(wiring_svg(card).empty());
}

TEST_CASE("wiring: the picture has every cable, its words and nothing from outside", "[wiring]") {
    const auto card = wiring_of(a_bench(), a_module());
    const auto svg = wiring_svg(card);
    pugi::xml_document page;
    REQUIRE(page.load_string(svg.c_str()));
    const auto root = page.child("svg");
    CHECK(std::string{root.attribute("role").value()} == "img");
    CHECK(count_of(root, "//path[@class='wiring-cable']") == card.wires.size());
    // Two ends of each cable, in circles of their own.
    CHECK(count_of(root, "//circle") == 2 * card.wires.size());
    CHECK(count_of(root, "//g/title") == card.wires.size());
    CHECK(std::string{root.child_value("title")} == "Cables of Ferrule at bench desk");
    CHECK(std::string{root.child_value("desc")}.find("1: OUT 3 to jack pitch, 0 V to 4 V.") == 0);
    CHECK(svg.find("href") == std::string::npos);
    CHECK(svg.find("url(") == std::string::npos);
    CHECK(svg.find("http", svg.find("http") + 1) == std::string::npos);
}

TEST_CASE("wiring: neighbouring cables differ by colour and by dash", "[wiring]") {
    const auto svg = wiring_svg(wiring_of(a_bench(), a_module()));
    pugi::xml_document page;
    REQUIRE(page.load_string(svg.c_str()));
    std::vector<std::string> colours, dashes;
    for (const auto& cable : page.select_nodes("//path[@class='wiring-cable']")) {
        dashes.emplace_back(cable.node().attribute("stroke-dasharray").value());
        colours.emplace_back(cable.node().parent().attribute("class").value());
    }
    for (auto* list : {&colours, &dashes}) {
        std::sort(list->begin(), list->end());
        CHECK(std::adjacent_find(list->begin(), list->end()) == list->end());
    }
}

TEST_CASE("wiring: foreign names are only ever text", "[wiring]") {
    auto m = a_module();
    m.module = "</style><script>alert(1)</script>";
    auto b = a_bench();
    b.outputs[0].socket = "<b>&\"'";
    for (const auto& text : {wiring_svg(wiring_of(b, m)), wiring_page(wiring_of(b, m))}) {
        CHECK(text.find("<script>") == std::string::npos);
        CHECK(text.find("<b>") == std::string::npos);
    }
    pugi::xml_document page;
    CHECK(page.load_string(wiring_svg(wiring_of(b, m)).c_str()));
}

TEST_CASE("wiring: a console whose address is still to be filled in is called by its placeholder",
          "[wiring]") {
    auto b = a_bench();
    b.console->how = console_settings::way::terminal;
    b.console->path = "{console}";
    const auto text =
        wiring_text(wiring_of(b, a_module()), {.colour = false, .width = 80, .utf8 = false});
    CHECK_THAT(text, Catch::Contains("terminal {console}"));
}

TEST_CASE("wiring: the table is aligned and fits an ASCII terminal", "[wiring]") {
    const auto text = wiring_text(wiring_of(a_bench(), a_module()),
                                  {.colour = false, .width = 80, .utf8 = false});
    CHECK_THAT(text, Catch::Contains("  1  OUT 3          jack pitch            0 V to 4 V\n"));
    CHECK_THAT(text, Catch::Contains("  2  output 1       jack gate             0 V or 5 V\n"));
    CHECK_THAT(text, Catch::Contains("  6  USB 1209:5a22  the module's console  text, by USB"));
    CHECK(std::all_of(text.begin(), text.end(), [](char c) { return c == '\n' || c >= ' '; }));
    std::size_t begin = 0;
    for (std::size_t end = text.find('\n'); end != std::string::npos;
         begin = end + 1, end = text.find('\n', begin))
        CHECK(end - begin <= 80);
}

}  // namespace
