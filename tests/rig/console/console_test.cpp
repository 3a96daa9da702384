#include "rig/console/console.hpp"

#include <sys/resource.h>

#include <atomic>
#include <catch2/catch.hpp>
#include <chrono>
#include <filesystem>
#include <thread>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"
#include "tests/rig/console/fake_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

using std::chrono::milliseconds;

const dialogue_line identity{"*IDN?", "Invented,Ferrule,([^,]*),(.+)", {}};

console_rules quick_rules() {
    console_rules r;
    r.boot_banner = "Ferrule .* ready";
    r.time_limit = seconds{2.0};  // far more than any reply takes, since the machine may be busy
    r.retries = 1;
    return r;
}

console_rules hasty_rules() {
    auto r = quick_rules();
    r.time_limit = seconds{0.1};
    return r;
}

console_settings at(console_settings::way how, const std::string& path) {
    console_settings c;
    c.how = how;
    c.path = path;
    c.return_time = seconds{10.0};
    c.where = {"bench.yaml", 4, 10};
    return c;
}

console_settings program(const std::string& behaviour) {
    auto c = at(console_settings::way::program, {});
    c.command = {CVRIG_ODD_CONSOLE, behaviour};
    return c;
}

console_settings tcp(const tcp_module& m) {
    auto c = at(console_settings::way::tcp, "localhost:" + std::to_string(m.port()));
    c.host = "127.0.0.1";
    c.port = m.port();
    return c;
}

std::string well_behaved(const std::string& line) {
    return line == "*IDN?" ? "Invented,Ferrule,0,1.4\r\n" : "";
}

/// Waits until something is so; gives up after a while, so that the check behind it fails.
template <class Predicate>
void wait_until(Predicate is_so) {
    for (int i = 0; i < 1000 && !is_so(); ++i) std::this_thread::sleep_for(milliseconds{10});
}

bool says(console& c, const std::string& text) {
    return c.record().log.find(text) != std::string::npos;
}

struct on_a_terminal {
    temporary_folder folder;
    terminal_module module;
    std::unique_ptr<console> rig;

    explicit on_a_terminal(replier reply, const console_rules& rules = quick_rules())
        : module{folder.path() / "ferrule.tty", std::move(reply)},
          rig{open_console(at(console_settings::way::terminal, (folder.path() / "ferrule.tty")),
                           rules, {})} {}
};

}  // namespace

TEST_CASE("a module on a pseudo-terminal is asked and answers", "[console]") {
    on_a_terminal t{well_behaved};
    const auto reply = t.rig->ask(identity);
    CHECK(reply.ok);
    CHECK(reply.line == "Invented,Ferrule,0,1.4");
    CHECK(reply.captures == std::vector<std::string>{"0", "1.4"});
    const auto said = t.rig->record();
    CHECK_THAT(said.log, Contains("s > *IDN?\n") && Contains("s < Invented,Ferrule,0,1.4\n"));
    CHECK(said.resets.empty());
    CHECK(said.problems.empty());
}

TEST_CASE("a module on TCP and one in a program answer as well", "[console]") {
    const tcp_module module{well_behaved};
    CHECK(open_console(tcp(module), quick_rules(), {})->ask(identity).ok);
    CHECK(open_console(program("answers"), quick_rules(), {})->ask(identity).ok);
}

TEST_CASE("a line that nobody waits an answer for is just sent", "[console]") {
    on_a_terminal t{well_behaved};
    CHECK(t.rig->ask({"VOICe:MODE tied", std::nullopt, {}}).ok);
    wait_until([&] { return !t.module.wire().heard().empty(); });
    CHECK(t.module.wire().heard() == std::vector<std::string>{"VOICe:MODE tied"});
}

TEST_CASE("replies are told from echoes, chatter and noise", "[console]") {
    on_a_terminal t{[](const std::string& line) {
        return line + "\r\nvoice 1 on\r\n" + std::string{"\0\xff", 2} + well_behaved(line) +
               "voice 1 off\r\n";
    }};
    const auto reply = t.rig->ask(identity);
    CHECK(reply.ok);
    CHECK(reply.line == "\\x00\\xffInvented,Ferrule,0,1.4");
    wait_until([&] { return says(*t.rig, "voice 1 off"); });
    CHECK(says(*t.rig, "< voice 1 off"));
    CHECK(says(*t.rig, "< *IDN?"));
}

TEST_CASE("a wrong answer is told, and not asked for again", "[console]") {
    int asked = 0;  // a busy machine may answer late: only a second question would be a fault
    on_a_terminal t{[&](const std::string&) {
        return ++asked == 1 ? "-224,\"Illegal parameter value\"\n" : "0,\"No error\"\n";
    }};
    const auto reply = t.rig->ask({"SYSTem:ERRor?", "[+]?0,\"No error\"", {}});
    CHECK_FALSE(reply.ok);
    CHECK(reply.problem ==
          "The module answered 'SYSTem:ERRor?' with '-224,\"Illegal parameter value\"', and "
          "'[+]?0,\"No error\"' is wanted.");
    CHECK(t.module.wire().heard().size() == 1);
}

TEST_CASE("a mute module is asked as often as the rules say, and then told", "[console]") {
    on_a_terminal t{nullptr, hasty_rules()};
    const auto reply = t.rig->ask(identity);
    CHECK_FALSE(reply.ok);
    CHECK_THAT(reply.problem, Contains("The module did not answer '*IDN?' within 0.1 s, asked 2 "
                                       "times"));
    wait_until([&] { return t.module.wire().heard().size() == 2; });
    CHECK(t.module.wire().heard().size() == 2);
}

TEST_CASE("an answer without a line end is told as what it is", "[console]") {
    auto rules = hasty_rules();
    rules.time_limit = seconds{1.0};  // longer than a line may stand unfinished
    on_a_terminal t{[](const std::string&) { return "Invented,Ferr"; }, rules};
    const auto reply = t.rig->ask(identity);
    CHECK_FALSE(reply.ok);
    CHECK_THAT(reply.problem, Contains("'Invented,Ferr (without a line end)'"));
}

TEST_CASE("a module that never reads holds nobody up", "[console]") {
    auto rules = hasty_rules();
    const auto rig = open_console(program("sleeps"), rules, {});
    const dialogue_line much{std::string(400'000, 'a'), std::nullopt, {}};
    const auto reply = rig->ask(much);  // more than a pipe holds
    CHECK_FALSE(reply.ok);
    CHECK_THAT(reply.problem, Contains("did not read") && Contains("within 0.1 s"));
}

TEST_CASE("a stopped run waits for no answer", "[console]") {
    std::stop_source stop;
    temporary_folder folder;
    terminal_module module{folder.path() / "tty", [&](const std::string&) {
                               stop.request_stop();
                               return std::string{};
                           }};
    auto rules = quick_rules();
    rules.time_limit = seconds{3600.0};
    const auto rig = open_console(at(console_settings::way::terminal, folder.path() / "tty"), rules,
                                  stop.get_token());
    CHECK(rig->ask(identity).problem == "The run was stopped.");
}

TEST_CASE("a banner nobody asked for is a reset; one that was caused is none", "[console][reset]") {
    on_a_terminal t{well_behaved};
    REQUIRE(t.rig->ask(identity).ok);
    t.rig->expect_reset();
    t.module.wire().say("Ferrule 1.4 ready\r\n");
    wait_until([&] { return t.rig->restarts() == 1; });
    CHECK(t.rig->record().resets.empty());
    t.module.wire().say("Ferrule 1.4 ready\r\n");
    wait_until([&] { return t.rig->restarts() == 2; });
    const auto said = t.rig->cut();
    REQUIRE(said.resets.size() == 1);
    CHECK_THAT(said.resets[0], Contains("The module restarted by itself") &&
                                   Contains("it sent 'Ferrule 1.4 ready'"));
    CHECK(t.rig->record().resets.empty());
}

TEST_CASE("opening the console may restart the module, until it has answered", "[console][reset]") {
    const tcp_module greets{well_behaved, "Ferrule 1.4 ready\r\n"};
    const auto rig = open_console(tcp(greets), quick_rules(), {});
    REQUIRE(rig->ask(identity).ok);
    wait_until([&] { return rig->restarts() == 1; });
    CHECK(rig->record().resets.empty());
}

TEST_CASE("a banner with noise of a starting line before it is seen", "[console][reset]") {
    on_a_terminal t{well_behaved};
    REQUIRE(t.rig->ask(identity).ok);
    t.module.wire().say(std::string{"\0\0\xfe", 3} + "Ferrule 1.4 ready\r\n");
    wait_until([&] { return t.rig->restarts() > 0; });
    CHECK(t.rig->record().resets.size() == 1);
}

TEST_CASE("a module that is asked twice and answers twice answers no other question by it",
          "[console][reset]") {
    std::atomic<talker*> module{nullptr};
    std::atomic<int> asked{0};
    on_a_terminal t{[&](const std::string& line) -> std::string {
        if (line == "LOAD?") return "71\r\n";
        if (line != "MEM?") return "";
        // It greets in the middle of a question and answers that all the same, and the one after.
        if (++asked == 1) module.load()->say("Ferrule 1.4 ready\r\n");
        std::this_thread::sleep_for(milliseconds{50});
        return "63488\r\n";
    }};
    module = &t.module.wire();
    CHECK(t.rig->ask({"MEM?", "([0-9]+)", {}}).captures.front() == "63488");
    CHECK(t.rig->ask({"LOAD?", "([0-9]+)", {}}).captures.front() == "71");
}

TEST_CASE("a module that restarts at a question is asked again", "[console][reset]") {
    int asked = 0;
    on_a_terminal t{[&](const std::string& line) {
        return ++asked == 1 ? "Ferrule 1.4 ready\n" : well_behaved(line);
    }};
    CHECK(t.rig->ask(identity).ok);
    CHECK(t.rig->restarts() == 1);
}

TEST_CASE("a terminal that goes away is found again under another name", "[console][return]") {
    on_a_terminal t{well_behaved};
    REQUIRE(t.rig->ask(identity).ok);
    const auto before = t.module.name();
    t.module.go_away();
    wait_until([&] { return says(*t.rig, "went away"); });
    t.module.come_back();
    CHECK(t.module.name() != before);
    CHECK(t.rig->ask(identity).ok);
    const auto said = t.rig->record();
    REQUIRE(said.problems.size() == 2);
    CHECK_THAT(said.problems[0], Contains(before) && Contains("went away"));
    CHECK_THAT(said.problems[1], Contains("came back") && Contains(t.module.name()));
    CHECK(t.rig->restarts() == 1);
    REQUIRE(said.doubts.size() == 1);
    CHECK_THAT(said.doubts[0], Contains("whether the module restarted meanwhile, nobody heard"));
}

TEST_CASE("a module that is expected to go away leaves no doubt", "[console][return]") {
    on_a_terminal t{well_behaved};
    REQUIRE(t.rig->ask(identity).ok);
    t.rig->expect_reset();
    t.module.go_away();
    wait_until([&] { return says(*t.rig, "went away"); });
    t.module.come_back();
    CHECK(t.rig->ask(identity).ok);
    CHECK(t.rig->record().doubts.empty());
    CHECK(t.rig->record().problems.empty());
}

TEST_CASE("a connection that is closed is made again", "[console][return]") {
    tcp_module module{well_behaved};
    const auto rig = open_console(tcp(module), quick_rules(), {});
    REQUIRE(rig->ask(identity).ok);
    module.hang_up();
    wait_until([&] { return module.calls() == 2; });
    CHECK(rig->ask(identity).ok);
    CHECK(rig->record().problems.size() == 2);
}

TEST_CASE("a program that ends is started again, with its last words told", "[console][return]") {
    const auto rig = open_console(program("answers"), quick_rules(), {});
    REQUIRE(rig->ask(identity).ok);
    REQUIRE(rig->ask({"die", std::nullopt, {}}).ok);
    wait_until([&] { return rig->restarts() > 0; });
    CHECK(rig->ask(identity).ok);

    const auto ended = open_console(program("complains"), hasty_rules(), {});
    wait_until([&] { return says(*ended, "went away"); });
    wait_until([&] { return !ended->record().problems.empty(); });
    CHECK_THAT(ended->record().problems.front(), Contains("'no image to run'"));
}

TEST_CASE("a console that stays away is told within its time", "[console][return]") {
    temporary_folder folder;
    terminal_module module{folder.path() / "tty", well_behaved};
    auto how = at(console_settings::way::terminal, folder.path() / "tty");
    how.return_time = seconds{0.2};
    const auto rig = open_console(how, hasty_rules(), {});
    module.go_away();
    wait_until([&] { return rig->record().problems.size() >= 2; });
    CHECK_THAT(rig->record().problems.at(1), Contains("did not come back within 0.2 s"));
    CHECK_THAT(rig->ask(identity).problem, Contains("is gone and did not come back within 0.2 s"));
}

TEST_CASE("a module that babbles costs little, fills no memory and is still heard",
          "[console][babble]") {
    const auto rig = open_console(program("babbles and answers"), quick_rules(), {});
    const auto cpu_seconds = [] {
        rusage used{};
        ::getrusage(RUSAGE_SELF, &used);
        return static_cast<double>(used.ru_utime.tv_sec + used.ru_stime.tv_sec) +
               1e-6 * static_cast<double>(used.ru_utime.tv_usec + used.ru_stime.tv_usec);
    };
    wait_until([&] { return says(*rig, "are left out]"); });
    const auto begin = std::chrono::steady_clock::now();
    const double cpu_before = cpu_seconds();
    std::this_thread::sleep_for(milliseconds{500});
    const double cpu = cpu_seconds() - cpu_before;
    const double wall =
        std::chrono::duration<double>(std::chrono::steady_clock::now() - begin).count();
    CAPTURE(cpu, wall);
    CHECK(cpu / wall < 0.3);  // a twentieth is meant; the rest is for a machine that is busy
    const auto reply = rig->ask(identity);
    CHECK(reply.ok);
    const auto said = rig->record();
    // 200 lines of about 45 bytes and some notes; all that came is many times more.
    CHECK(said.log.size() < 20'000);
    CHECK_THAT(said.log, Contains("lines that the module sent unasked are left out]"));
    CHECK(said.problems.empty());
    REQUIRE(said.doubts.size() == 1);
    CHECK_THAT(said.doubts[0], Contains("lines in one second unasked"));
}

TEST_CASE("a babble without line ends is one as well", "[console][babble]") {
    on_a_terminal t{well_behaved};
    for (int i = 0; i < 100; ++i) t.module.wire().say(std::string(1000, 'x'));
    wait_until([&] { return !t.rig->record().doubts.empty(); });
    CHECK_THAT(t.rig->record().doubts[0], Contains("lines in one second unasked"));
}

TEST_CASE("a console that is away leaves a doubt in every record until it is back",
          "[console][return]") {
    on_a_terminal t{well_behaved};
    REQUIRE(t.rig->ask(identity).ok);
    t.module.go_away();
    wait_until([&] { return says(*t.rig, "went away"); });
    for (int i = 0; i < 2; ++i) {
        const auto said = t.rig->cut();
        REQUIRE(said.doubts.size() == 1);
        CHECK_THAT(said.doubts[0], Contains("has been gone since"));
    }
    t.module.come_back();
    wait_until([&] { return says(*t.rig, "came back"); });
    CHECK(t.rig->cut().doubts.size() == 1);
    CHECK(t.rig->cut().doubts.empty());
}

TEST_CASE("a module that says a little leaves no doubt", "[console][babble]") {
    on_a_terminal t{well_behaved};
    for (int i = 0; i < 50; ++i) t.module.wire().say("dbg: gate on\r\n");
    REQUIRE(t.rig->ask(identity).ok);
    CHECK(t.rig->record().doubts.empty());
}

TEST_CASE("a console that cannot be opened is told with its place", "[console]") {
    const auto refusal = [](const console_settings& how) {
        try {
            static_cast<void>(open_console(how, quick_rules(), {}));
        } catch (const user_error& e) {
            return std::string{e.what()};
        }
        return std::string{};
    };
    CHECK(refusal(at(console_settings::way::terminal, "/nowhere/tty")) ==
          "bench.yaml:4:10: The console (terminal /nowhere/tty) cannot be opened: there is no such "
          "terminal; start the module's program first.");
    CHECK_THAT(refusal(at(console_settings::way::terminal, "/dev/null")),
               Contains("it is no terminal"));
    CHECK_THAT(refusal(at(console_settings::way::serial_path, "/dev/ttyNONE7")),
               Contains("there is no serial port /dev/ttyNONE7"));
    auto usb = at(console_settings::way::usb, "1209:0001");
    usb.vendor_id = 0x1209;
    usb.product_id = 0x0001;
    usb.serial_number = "no such number";
    CHECK_THAT(refusal(usb), Contains("no such device is plugged in"));
    auto nobody = at(console_settings::way::tcp, "127.0.0.1:1");
    nobody.host = "127.0.0.1";
    nobody.port = 1;
    CHECK_THAT(refusal(nobody), Contains("nobody listens there"));
}
