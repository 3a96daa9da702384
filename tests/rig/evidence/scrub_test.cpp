// What is personal in texts, records and bench files.

#include <catch2/catch.hpp>
#include <nlohmann/json.hpp>

#include "rig/evidence/scrub.hpp"
#include "rig/evidence/scrub_bench.hpp"
#include "rig/evidence/scrub_records.hpp"
#include "rig/evidence/told_console.hpp"
#include "rig/evidence/write_yaml.hpp"
#include "rig/expectations/user_error.hpp"

using namespace cvrig;
using namespace cvrig::evidence;
using Catch::Matchers::Contains;

namespace {

const private_names ann{
    {"annex", "Ann Example", "root", "a", "zu"}, {"studio-desk"}, {"/home/annex"}};

struct replacement {
    std::string before, after;
};

yaml_node tree_of(const std::string& text) {
    complaint_list wrong;
    auto out = read_yaml(text, "x.yaml", wrong);
    wrong.raise();
    return out;
}

}  // namespace

TEST_CASE("paths, ports, addresses and names go out of texts", "[evidence]") {
    const auto [before, after] = GENERATE(values<replacement>({
        {"cannot open /home/annex/x.wav", "cannot open <path>"},
        {"cannot open '/srv/my voice/x.wav': no such file", "cannot open '<path>': no such file"},
        {"copy \"/a b/c\" to \"/d e/f\" failed", "copy \"<path>\" failed"},
        {"cannot read '/srv/ann's things/x' now", "cannot read '<path>' now"},
        {"file:///srv/x and more", "<path>"},
        {"see https://example.org/x", "see <path>"},
        {"state=/srv/flash 7", "state=<path>"},
        {"read ~/voice/x and ~ann/y", "read <path>"},
        {"./module said no", "<path>"},
        {"../voice/module", "<path>"},
        {"build/voice.hex is chopped", "<path>"},
        {"src/voice/slide.cpp:12: late", "<path>"},
        {"src/slide.cpp:12: late", "<path>"},
        {"from=voice/a.hex:3", "from=<path>"},
        {R"(C:\Users\ann\x.wav)", "<path>"},
        {R"(\\server\share)", "<path>"},
        {"port ttyACM0 is gone, COM3 too", "port <port> is gone, <port> too"},
        {"mail ann@example.org.", "mail <address>."},
        {"no answer from 192.168.1.7:5025", "no answer from <address>"},
        {"desk.local refused", "<address> refused"},
        {"no answer from [2001:db8::17]:5025", "no answer from [<address>]:5025"},
        {"from fe80::1c2:3ff%eth0 only", "from <address> only"},
        {"it is 2001:db8:0:0:8:800:200c:417a.", "it is <address>."},
        {"mapped ::ffff:192.0.2.1: late", "mapped <address>: late"},
        {"console on TCP bench7:5025", "console on TCP <address>"},
        {"the console (TCP bench7.example.com:5025) went away",
         "the console (TCP <address>) went away"},
        {"listens on bench7.example.com:5025.", "listens on <address>."},
        {"on Studio-Desk as ANNEX.", "on <host> as <user>."},
        {"zu's build", "<user>'s build"},
        {"built by Ann Example on studio-desk", "built by <user> on <host>"},
        {"ferrule_annex_debug", "ferrule_<user>_debug"},
        {"two\nlines of /srv/x\nstay", "two\nlines of <path>\nstay"},
    }));
    CAPTURE(before);
    const auto clean = scrubbed(before, ann);
    CHECK(clean.text == after);
    CHECK(clean.replaced.all() > 0);
    // What is clean stays clean.
    CHECK(scrubbed(clean.text, ann).text == clean.text);
}

TEST_CASE("what a run calls its console gives away words to take out", "[evidence]") {
    private_names names;
    for (const auto& one :
         consoles_told_in_json(R"({"bench": {"link": "8 in; console: TCP [fe80::7]:1",
           "proof": {"facts": ["round trip 7", "console on TCP bench7.example.com:5025", "console on Monday"]}}})"))
        add_console(names, one);
    CHECK(names.hosts == std::vector<std::string>{"fe80::7", "bench7.example.com"});
    const std::string log =
        "bench: console on USB serial port 1209:0001, serial number A50285BI\n"
        "bench: console on serial port deskport\nbench: console on terminal /srv/x y\n"
        "bench: console on program ferrule\n";
    for (const auto& one : consoles_told_in(log)) add_console(names, one);
    CHECK(scrubbed(log, names).text ==
          "bench: console on USB serial port 1209:0001, <port>\n"
          "bench: console on serial port <port>\nbench: console on terminal <path>\n"
          "bench: console on program ferrule\n");
    CHECK(scrubbed("a50285bi and Bench7.Example.Com", names).text == "<port> and <host>");
    CHECK(consoles_told_in_json("no json").empty());
    CHECK(consoles_told_in("+0.000 s * the console is open (desk7:5025)\n"
                           "+0.000 s * the console is open (/dev/desk)\n"
                           "+0.000 s * the console is open (ferrule)\n"
                           "The console (serial port x7) cannot be opened: gone.\n"
                           "The console (for short) is open\n") ==
          std::vector<std::string>{"TCP desk7:5025", "serial port x7", "terminal /dev/desk"});
}

TEST_CASE("what only looks like a path stays", "[evidence]") {
    const auto text = GENERATE(values<std::string>({
        "0.2 V/s and 1 V/oct.",
        "step 12/34 on 30/11/2026",
        "on / off",
        "firmware 1.4.0, build 20261125",
        "take 3: left, right; mode=tied",
        "+0.012 s < Invented,Ferrule,0007,1.4.0",
        "the root mean square, also of an algorithm",
        "the annexes",
        "MEASure:LOAD? -> 12.5",
        "within 5 cent (k = 2) ~ 3",
        "an error of 3.5 %",
        "DATA:TTY and COM",
        "add::fade at 12:34:56",
        "std::abs and 3::x",
        "TCP localhost:5025",
        "on 12:30",
        "ratio 1:2:3",
        "",
    }));
    CAPTURE(text);
    CHECK(scrubbed(text, ann).text == text);
}

TEST_CASE("arguments of programs lose paths and files, and keep what a run fills in",
          "[evidence]") {
    const auto clean = [](const std::string& a) { return scrubbed_argument(a, {}).text; };
    CHECK(clean("render") == "render");
    CHECK(clean("jacks=pitch,gate") == "jacks=pitch,gate");
    CHECK(clean("image={image}") == "image={image}");
    CHECK(clean("{settings}") == "{settings}");
    CHECK(clean("/opt/x/ferrule") == "<path>");
    CHECK(clean("build/ferrule") == "<path>");
    CHECK(clean("table=ann.table") == "table=<path>");
    CHECK(clean("in=/srv/a b/{stimulus}") == "in=<path>{stimulus}");
    CHECK(clean("cd ~/x && run {stimulus} {response}") == "<path>{stimulus}{response}");
}

TEST_CASE("a bench file keeps what judging goes by and loses the desk", "[evidence]") {
    const auto root = tree_of(R"(# Ann's desk in the cellar
format: cvrig bench 1
name: annex desk
link: {audio: "interface of annex", api: alsa, rate: 48 kHz}
outputs:
  - {jack: pitch, socket: OUT 1, channel: 1, full scale: 10 V, limits: -0.1 V to 5 V}
inputs: [{jack: left, uncertainty: 0.2 %}]
trim: /home/annex/desk.trim.yaml
console: {usb: "1209:0001", serial number: "A50285BI"}
)");
    const auto clean = scrub_bench(root, ann, true);
    const auto text = yaml_text(clean.tree);
    CHECK_THAT(text, !Contains("cellar") && !Contains("annex") && !Contains("A50285BI"));
    CHECK_THAT(text, Contains("name: \"<user> desk\"") && Contains("trim: trim.yaml"));
    CHECK_THAT(text, Contains("1209:0001") && Contains("limits: \"-0.1 V to 5 V\""));
    CHECK(clean.replaced.people == 2);
    CHECK_THAT(yaml_text(scrub_bench(root, ann, false).tree), !Contains("trim"));
}

TEST_CASE("every way to a console is left out of a bench file", "[evidence]") {
    const auto console = GENERATE(values<std::string>({
        "{serial: /dev/ttyACM0, baud: 9600}",
        "{terminal: /run/secret-tty}",
        "{tcp: \"secret-host:5025\"}",
        "{program: [/opt/secret/ferrule, console, \"state=secret.bin\"]}",
    }));
    const auto text = yaml_text(
        scrub_bench(tree_of("format: cvrig bench 1\nconsole: " + console + "\n"), {}, false).tree);
    CAPTURE(text);
    CHECK_THAT(text, Contains("console") && !Contains("secret") && !Contains("tty"));
}

TEST_CASE("a report keeps its readings and loses what is personal", "[evidence]") {
    const std::string text = R"({"format": "cvrig report 1", "module": "Ferrule", "unit": "annex 7",
      "build": {"name": "good-annex", "sha256": ""}, "bench": {"name": "studio-desk", "link": "program /srv/x"},
      "expectations_file": {"file": "ann.yaml", "sha256": "1"}, "bench_file": {"file": "b.yaml", "sha256": "2"},
      "takes": [{"checks": ["tracking"], "log": "at /srv/x", "problems": ["on studio-desk"]}],
      "checks": [{"check": "annex", "settings": {"mode": "annex"}, "findings": [
        {"name": "annex", "reason": "see /srv/x", "limit": {"text": "at most 1 V"}, "reading": {"value": 0.1}}]}]})";
    const auto clean = scrubbed_report(text, "report.json", "program <path>", ann);
    const auto all = nlohmann::json::parse(clean.text);
    CHECK(all.at("unit") == "<user> 7");
    CHECK(all.at("build").at("name") == "good-<user>");
    CHECK(all.at("bench").at("name") == "<host>");
    CHECK(all.at("bench").at("link") == "program <path>");
    CHECK(all.at("expectations_file").at("file") == "expectations.yaml");
    CHECK(all.at("takes").at(0).at("log") == "at <path>");
    CHECK(all.at("takes").at(0).at("checks").at(0) == "tracking");
    CHECK(all.at("takes").at(0).at("problems").at(0) == "on <host>");
    // Judging goes by names; the reading is a number.
    const auto& check = all.at("checks").at(0);
    CHECK(check.at("check") == "annex");
    CHECK(check.at("settings").at("mode") == "annex");
    CHECK(check.at("findings").at(0).at("name") == "annex");
    CHECK(check.at("findings").at(0).at("reason") == "see <path>");
    CHECK(check.at("findings").at(0).at("reading").at("value").dump() == "0.1");
    CHECK_THROWS_AS(scrubbed_report("no json", "report.json", "", ann), user_error);
}

TEST_CASE("how a build was made and flashed tells no paths, ports and names", "[evidence]") {
    const std::string text =
        R"({"format": "cvrig report 1", "preparation": {"facts": ["on studio-desk"],
      "steps": [{"step": "build", "command": "make -C /srv/fw IMAGE=bass.hex", "output": "annex: cc main.c"},
                {"step": "flash", "command": "./tool.sh -p /dev/ttyACM0"}, 7]}})";
    const auto all =
        nlohmann::json::parse(scrubbed_report(text, "report.json", "program <path>", ann).text);
    const auto& steps = all.at("preparation").at("steps");
    CHECK(steps.at(0).at("command") == "make -C <path> IMAGE=<path>");
    CHECK(steps.at(0).at("output") == "<user>: cc main.c");
    CHECK(steps.at(1).at("command") == "<path> -p <path>");
    CHECK(all.at("preparation").at("facts").at(0) == "on <host>");
    const auto bench = yaml_text(
        scrub_bench(tree_of("format: cvrig bench 1\nname: x\nbuild: {program: [make, secret]}\n"
                            "flash: {program: [secret]}\n"),
                    {}, false)
            .tree);
    CHECK_THAT(bench, Contains("name: x") && !Contains("secret") && !Contains("build"));
}

TEST_CASE("facts without the firmware file say that it was left out", "[evidence]") {
    const std::string text = R"({"format": "cvrig facts 1", "build_name": "x",
      "image": {"name": "annex.hex", "sha256": "1"}, "no_console": "none"})";
    const auto without = nlohmann::json::parse(scrubbed_facts(text, "f", false, ann).text);
    CHECK_FALSE(without.contains("image"));
    CHECK_THAT(without.at("no_image").get<std::string>(), Contains("left out"));
    const auto with = nlohmann::json::parse(scrubbed_facts(text, "f", true, ann).text);
    CHECK(with.at("image").at("name") == "image");
}

TEST_CASE("a log tells no time of day", "[evidence]") {
    const auto clean = scrubbed_log(
        "2026-11-25T23:59:59.250 info take 1\nsecond line of /srv/x\n2026-11-26T00:00:01.000 warn "
        "late\n",
        ann);
    CHECK(clean.text == "+0.000 s info take 1\nsecond line of <path>\n+1.750 s warn late\n");
}
