// The checks that hear nothing: image and console, judged from facts.

#include <catch2/catch.hpp>
#include <cmath>

#include "rig/checks/check.hpp"
#include "rig/checks/console.hpp"
#include "rig/checks/image_version.hpp"
#include "rig/checks/outside_facts.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/image/crc32.hpp"
#include "rig/platform/files.hpp"
#include "rig/run/by_facts.hpp"
#include "rig/run/console_watch.hpp"
#include "rig/run/kept_facts.hpp"
#include "rig/run/module_faults.hpp"
#include "tests/rig/image/bytes.hpp"
#include "tests/rig/image/writers.hpp"
#include "tests/rig/simple_module.hpp"

using namespace cvrig;
using namespace cvrig::testing;
using Catch::Matchers::Contains;

namespace {

limit limit_of(const std::string& text, dimension unit) {
    const auto l = parse_limit(text, unit, "test");
    REQUIRE(l);
    return *l;
}

module_expectations image_expectations() {
    auto m = simple_expectations();
    check_expectation c{.name = "image", .in = {{}}, .keys = {}, .where = {}};
    c.keys["file"] = everywhere(word{"sound"});
    c.keys["memory"] = everywhere(std::vector<memory_region>{
        {"flash", 0x08000000, 4096, limit_of("at most 3 KiB", dimension::bytes)},
        {"RAM", 0x20000000, 65536, limit_of("at most 50 %", dimension::percent)}});
    c.keys["version"] = everywhere(text_pattern{"Module ([0-9.]+)"});
    m.checks.push_back(std::move(c));
    return m;
}

module_expectations console_expectations() {
    auto m = simple_expectations();
    check_expectation c{.name = "console", .in = {{}}, .keys = {}, .where = {}};
    c.keys["identity"] = everywhere(word{"the image's version"});
    c.keys["identity form"] = everywhere(word{"IEEE 488.2"});
    c.keys["answer"] = everywhere(limit_of("at most 0.5 s", dimension::seconds));
    c.keys["load"] = everywhere(limit_of("at most 80 %", dimension::percent));
    c.keys["memory"] = everywhere(limit_of("at least 16 KiB", dimension::bytes));
    c.keys["memory loss"] = everywhere(limit_of("at most 64 B", dimension::bytes));
    c.keys["resets"] = everywhere(limit_of("none", dimension::count));
    m.checks.push_back(std::move(c));
    return m;
}

check_result judged(const module_expectations& m, const outside_facts& facts) {
    const auto b = simple_bench();
    const auto plan = plan_run(m, b);
    REQUIRE(plan.takes.empty());
    std::vector<check_result> results;
    add_by_facts(results, plan, facts, m, b);
    REQUIRE(results.size() == 1);
    return results.front();
}

outside_facts with_image(const std::vector<std::byte>& bytes) {
    outside_facts facts;
    facts.image = image_facts{"build.hex", sha256_of(bytes), bytes};
    return facts;
}

std::vector<std::byte> firmware(std::size_t size, const std::string& text = "Module 1.2.3") {
    std::vector<std::byte> flash(size, std::byte{0xA5});
    const auto said = bytes_of(text);
    std::ranges::copy(said, flash.begin() + 64);
    flash[64 + said.size()] = std::byte{0};
    return flash;
}

std::vector<std::byte> hex_of(const std::vector<std::byte>& flash, std::uint64_t at = 0x08000000) {
    return bytes_of(as_intel_hex({{at, flash}}, 16));
}

console_facts good_console() {
    console_facts c;
    c.identity_question = "*IDN?";
    c.identity = "Maker,Module,0007,1.2.3";
    c.version = "1.2.3";
    for (int i = 0; i < 6; ++i) {
        c.answers.push_back({"*IDN?", seconds{1.0 * i}, seconds{0.003}});
        c.load.push_back({seconds{1.0 * i}, 41.5 + 0.1 * (i % 3), 0.1});
        c.memory.push_back({seconds{1.0 * i}, 60000.0, 1.0});
    }
    return c;
}

verdict outcome_of(const check_result& r, const std::string& name) {
    const auto* f = r.find(name);
    REQUIRE(f != nullptr);
    return f->outcome;
}

}  // namespace

TEST_CASE("image check: a build that fits passes and tells its headroom", "[facts]") {
    const auto r = judged(image_expectations(), with_image(hex_of(firmware(2048))));
    CHECK(r.outcome() == verdict::skipped);  // of RAM an Intel HEX file says nothing
    CHECK(outcome_of(r, "RAM") == verdict::skipped);
    const auto* flash = r.find("flash");
    REQUIRE(flash != nullptr);
    CHECK(flash->outcome == verdict::pass);
    CHECK(flash->measured->value == 2048.0);
    CHECK(flash->measured->at == "50 % of 4 KiB, 2 KiB free");
    CHECK(r.find("version")->answered->text == "1.2.3");
}

TEST_CASE("image check: each thing that can be wrong with a build fails by its own finding",
          "[facts]") {
    struct row {
        std::vector<std::byte> file;
        std::string finding, words;
    };
    auto broken = hex_of(firmware(2048));
    broken[30] = static_cast<std::byte>(static_cast<char>(broken[30]) == '0' ? '1' : '0');
    const auto r = GENERATE_COPY(
        row{hex_of(firmware(3073)), "flash", "takes 3.001 KiB of flash"},
        row{hex_of(firmware(2048), 0x08000C00), "outside", "1 KiB at 0x08001000 lie in none"},
        row{hex_of(firmware(2048), 0x00000000), "outside", "2 KiB at 0x00000000 lie in none"},
        row{hex_of(firmware(2048, "Module 1.2.3-dirty")), "version",
            "The image says 'Module 1.2.3-dirty'"},
        row{hex_of(firmware(2048, "Thing 1.2.3")), "version", "No text in the image matches"},
        row{bytes_of(as_intel_hex({{0x08000000, firmware(2048)}}, 16).substr(0, 300)), "file",
            "end record"});
    const auto result = judged(image_expectations(), with_image(r.file));
    const auto* f = result.find(r.finding);
    CAPTURE(r.finding);
    REQUIRE(f != nullptr);
    CHECK(f->outcome == verdict::fail);
    CHECK_THAT(f->reason, Contains(r.words));
}

TEST_CASE("image check: checksums and formats are judged as the file demands", "[facts]") {
    auto m = image_expectations();
    auto& keys = m.checks.front().keys;
    keys["checksum"] = everywhere(word{"right"});
    keys["format"] = everywhere(word{"Intel HEX"});
    auto text = as_intel_hex({{0x08000000, firmware(2048)}}, 16);
    CHECK(outcome_of(judged(m, with_image(bytes_of(text))), "checksum") == verdict::pass);
    const auto end_of_line = text.find('\n', 40);
    text[end_of_line - 1] = text[end_of_line - 1] == '0' ? '1' : '0';
    const auto wrong = judged(m, with_image(bytes_of(text)));
    CHECK(outcome_of(wrong, "checksum") == verdict::fail);
    CHECK_THAT(wrong.find("checksum")->reason, Contains("Line 2 has the checksum"));
    const auto other = judged(m, with_image(as_uf2({0x08000000, firmware(2048)}, 256)));
    CHECK(outcome_of(other, "format") == verdict::fail);
    CHECK(outcome_of(other, "checksum") == verdict::unsure);
}

TEST_CASE("image check: the CRC at the end of a raw binary, in every variant", "[facts]") {
    const auto& v = GENERATE(from_range(crc32_variants.begin(), crc32_variants.end()));
    const bool big = GENERATE(false, true);
    auto m = image_expectations();
    m.checks.front().keys["crc"] = everywhere(
        word{std::string{v.name} + " in the last four bytes" + (big ? ", high byte first" : "")});
    auto flash = firmware(2044);
    const auto crc = crc32(flash, v);
    for (unsigned i = 0; i < 4; ++i)
        flash.push_back(static_cast<std::byte>(crc >> 8 * (big ? 3 - i : i) & 0xFFU));
    CAPTURE(v.name, big);
    CHECK(outcome_of(judged(m, with_image(flash)), "crc") == verdict::pass);
    flash[500] ^= std::byte{1};
    CHECK(outcome_of(judged(m, with_image(flash)), "crc") == verdict::fail);
}

TEST_CASE("image check: an ELF file tells flash and RAM", "[facts]") {
    auto m = image_expectations();
    m.checks.front().keys.erase("version");
    const auto r = judged(m, with_image(example("elf_example_arm.elf")));
    CHECK(r.outcome() == verdict::pass);
    CHECK(r.find("flash")->measured->value == 1244.0);
    CHECK(r.find("RAM")->measured->value == Approx(6.5).margin(0.001));  // 4260 of 65536 bytes
}

TEST_CASE("image check: the build's name must be in the image if that is demanded", "[facts]") {
    auto m = image_expectations();
    m.checks.front().keys["build name"] = everywhere(word{"in the image"});
    auto facts = with_image(hex_of(firmware(2048)));
    CHECK(outcome_of(judged(m, facts), "build name") == verdict::unsure);
    facts.build_name = "1.2.3";
    CHECK(outcome_of(judged(m, facts), "build name") == verdict::pass);
    facts.build_name = "1.2";  // a part of another version is not it
    CHECK(outcome_of(judged(m, facts), "build name") == verdict::fail);
}

TEST_CASE("facts: without an image or a console every demand is skipped with the reason",
          "[facts]") {
    const auto image = judged(image_expectations(), {});
    CHECK(image.outcome() == verdict::skipped);
    CHECK_THAT(image.findings.front().reason, Contains("--image"));
    CHECK(image.findings.size() == 3);
    const auto talks = judged(console_expectations(), {});
    CHECK(talks.outcome() == verdict::skipped);
    CHECK_THAT(talks.findings.front().reason, Contains("has no console"));
}

TEST_CASE("console check: a good console passes", "[facts]") {
    auto facts = with_image(hex_of(firmware(2048)));
    facts.console = good_console();
    const auto r = judged(console_expectations(), facts);
    for (const auto& f : r.findings) {
        CAPTURE(f.name, f.reason);
        CHECK(f.outcome == verdict::pass);
    }
    CHECK(r.findings.size() == 7);
}

TEST_CASE("console check: each thing that can go wrong fails by its own finding", "[facts]") {
    struct row {
        std::string finding, words;
        void (*spoil)(console_facts&);
    };
    const auto r = GENERATE(
        row{"identity", "runs version 1.2.2", [](console_facts& c) { c.version = "1.2.2"; }},
        row{"identity form", "has 2 fields", [](console_facts& c) { c.identity = "Module,1.2.3"; }},
        row{"answer", "at most 0.5 s", [](console_facts& c) { c.answers[3].took = seconds{0.7}; }},
        row{"answer", "did not answer",
            [](console_facts& c) { c.silence = "The module did not answer."; }},
        row{"load", "at most 80 %", [](console_facts& c) { c.load[4].told = 81.0; }},
        row{"memory", "at least 16 KiB", [](console_facts& c) { c.memory[5].told = 16000.0; }},
        row{"memory loss", "at most 64 B",
            [](console_facts& c) {
                for (std::size_t i = 0; i < c.memory.size(); ++i)
                    c.memory[i].told -= 20.0 * static_cast<double>(i);
            }},
        row{"resets", "restarted by itself",
            [](console_facts& c) { c.resets = {"The module restarted by itself."}; }});
    auto facts = with_image(hex_of(firmware(2048)));
    facts.console = good_console();
    r.spoil(*facts.console);
    const auto result = judged(console_expectations(), facts);
    const auto* f = result.find(r.finding);
    CAPTURE(r.finding);
    REQUIRE(f != nullptr);
    CHECK(f->outcome == verdict::fail);
    CHECK_THAT(f->reason, Contains(r.words));
}

TEST_CASE("console check: memory that only scatters is no leak, and a hidden one is unsure",
          "[facts]") {
    auto facts = with_image(hex_of(firmware(2048)));
    facts.console = good_console();
    const double scatter[] = {0.0, -30.0, 10.0, -20.0, 5.0, -10.0};
    for (std::size_t i = 0; i < 6; ++i) facts.console->memory[i].told += 0.2 * scatter[i];
    CHECK(outcome_of(judged(console_expectations(), facts), "memory loss") == verdict::pass);
    for (std::size_t i = 0; i < 6; ++i) facts.console->memory[i].told += 20.0 * scatter[i];
    CHECK(outcome_of(judged(console_expectations(), facts), "memory loss") == verdict::unsure);
}

TEST_CASE("console check: the identity is held to the rules of IEEE 488.2", "[facts]") {
    // IEEE 488.2-1992, 10.14 (from memory): four fields, 0 for unknown, at most 72 characters.
    CHECK(identity_fault("Maker,Module,0,1.2.3").empty());
    CHECK_THAT(identity_fault("Maker,Module,0"), Contains("has 3 fields"));
    CHECK_THAT(identity_fault("Maker,Module,,1.2.3"), Contains("is empty"));
    CHECK_THAT(identity_fault("Maker;x,Module,0,1"), Contains("not allowed"));
    CHECK_THAT(identity_fault("Maker\xC3\xA9,Module,0,1"), Contains("not allowed"));
    CHECK_THAT(identity_fault(std::string(70, 'm') + ",M,0,1"), Contains("76 characters long"));
}

TEST_CASE("console watch: numbers are read with their unit and last digit", "[facts]") {
    const auto load = told_number("41.5", dimension::percent);
    REQUIRE(load);
    CHECK(load->told == 41.5);
    CHECK(load->digit == Approx(0.1));
    const auto memory = told_number("60.25 KiB", dimension::bytes);
    REQUIRE(memory);
    CHECK(memory->told == 61696.0);
    CHECK(memory->digit == Approx(10.24));
    // Of nothing, the unit alone says what the last digit is worth.
    for (const auto& [text, digit] : {std::pair{"0 KiB", 1024.0}, std::pair{"0.0 KiB", 102.4},
                                      std::pair{"0 B", 1.0}, std::pair{"0", 1.0}}) {
        const auto none = told_number(text, dimension::bytes);
        CAPTURE(text);
        REQUIRE(none);
        CHECK(none->told == 0.0);
        CHECK(none->digit == Approx(digit));
    }
    CHECK_FALSE(told_number("60 V", dimension::bytes));
    CHECK_FALSE(told_number("plenty", dimension::bytes));
    console_reply reply;
    reply.line = "Maker,Module,0007,1.2.3";
    CHECK(version_of(reply) == "1.2.3");
    reply.captures = {"9"};
    CHECK(version_of(reply) == "9");
}

TEST_CASE("facts: a restart that the takes heard is told once, by the check console", "[facts]") {
    const auto m = console_expectations();
    const auto b = simple_bench();
    auto facts = with_image(hex_of(firmware(2048)));
    facts.console = good_console();
    check_result heard;
    heard.check = "console";
    finding f;
    f.check = "console";
    f.name = "resets";
    f.outcome = verdict::fail;
    f.reason = "Take 3: The module restarted by itself.";
    heard.findings.push_back(f);
    std::vector<check_result> results{heard};
    add_by_facts(results, plan_run(m, b), facts, m, b);
    REQUIRE(results.size() == 1);
    CHECK(results[0].findings.size() == 7);
    CHECK(results[0].find("resets")->reason == f.reason);
    CHECK(results[0].outcome() == verdict::fail);
}

TEST_CASE("facts: restarts between takes and in them count together against the file's limit",
          "[facts]") {
    auto m = console_expectations();
    m.checks.front().keys["resets"] = everywhere(limit_of("at most 2", dimension::count));
    const auto b = simple_bench();
    auto facts = with_image(hex_of(firmware(2048)));
    facts.console = good_console();
    facts.console->resets = {"It restarted between takes."};
    CHECK(outcome_of(judged(m, facts), "resets") == verdict::pass);
    CHECK(judged(m, facts).find("resets")->measured->value == 1.0);
    const auto with_takes = [&](std::size_t restarts) {
        module_faults heard;
        take t;
        t.number = 3;
        t.module_faults.assign(restarts, "It restarted.");
        heard.add(t);
        const auto resets = limit_of("at most 2", dimension::count);
        auto result = heard.result(&resets);
        REQUIRE(result);
        std::vector<check_result> results{*result};
        add_by_facts(results, plan_run(m, b), facts, m, b);
        return *results.at(0).find("resets");
    };
    CHECK(with_takes(1).outcome == verdict::pass);
    CHECK(with_takes(1).measured->value == 2.0);
    const auto too_many = with_takes(2);
    CHECK(too_many.outcome == verdict::fail);
    CHECK(too_many.measured->value == 3.0);
    CHECK_THAT(too_many.reason, Contains("3 times") && Contains("at most 2"));
    facts.console->resets = {"Once.", "Twice.", "Thrice."};
    CHECK(outcome_of(judged(m, facts), "resets") == verdict::fail);
    // Without a demand none is right.
    m.checks.front().keys.erase("resets");
    CHECK(outcome_of(judged(m, facts), "resets") == verdict::fail);
}

TEST_CASE("facts: the kept firmware file must be the one of the run", "[facts]") {
    const temporary_folder folder;
    keep_facts(folder.path(), with_image(hex_of(firmware(2048))));
    REQUIRE(read_kept_facts(folder.path()).image);
    write_file_atomically(folder.path() / "image", "another build");
    CHECK_THROWS_WITH(read_kept_facts(folder.path()),
                      Contains("is not the firmware file of the run") && Contains("SHA-256"));
}

TEST_CASE("facts: what an earlier run kept is gone, and what somebody else put there is not",
          "[facts]") {
    const temporary_folder folder;
    keep_facts(folder.path(), with_image(hex_of(firmware(2048))));
    const auto old = folder.path() / "takes" / "mode=tied,attempt=2";
    std::filesystem::create_directories(old);
    for (const char* name : {"take.json", "stimulus.wav", "response.wav"})
        write_file_atomically(old / name, "old");
    const auto own = folder.path() / "takes" / "notes";
    std::filesystem::create_directories(own);
    write_file_atomically(own / "mine.txt", "mine");
    forget_kept(folder.path());
    CHECK_FALSE(read_kept_facts(folder.path()).image);
    CHECK_FALSE(std::filesystem::exists(folder.path() / "image"));
    CHECK_FALSE(std::filesystem::exists(old));
    CHECK(std::filesystem::exists(own / "mine.txt"));
    const temporary_folder nothing;
    CHECK_NOTHROW(forget_kept(nothing.path()));
}

TEST_CASE("image check: what the file's reader finds odd stands with the finding", "[facts]") {
    auto m = image_expectations();
    auto file = as_uf2({0x08000000, firmware(2048)}, 256);
    put(file, 2 * 512 + 8, 1);  // not main flash
    const auto r = judged(m, with_image(file));
    REQUIRE(r.find("file") != nullptr);
    REQUIRE(r.find("file")->notes.size() == 1);
    CHECK_THAT(r.find("file")->notes[0], Contains("not for the main flash"));
    // Also where the file asks for nothing of the kind.
    m.checks.front().keys.erase("file");
    CHECK(judged(m, with_image(file)).find("file")->notes.size() == 1);
    CHECK(judged(m, with_image(hex_of(firmware(2048)))).find("file") == nullptr);
}

TEST_CASE("image check: a CRC covers a segment that begins before the region", "[facts]") {
    auto m = image_expectations();
    m.checks.front().keys["crc"] =
        everywhere(word{std::string{crc32_variants[0].name} + " in the last four bytes"});
    auto flash = firmware(2044);
    const auto crc = crc32(flash, crc32_variants[0]);
    for (unsigned i = 0; i < 4; ++i) flash.push_back(static_cast<std::byte>(crc >> 8 * i & 0xFFU));
    flash.insert(flash.begin(), 16, std::byte{0x55});
    CHECK(outcome_of(judged(m, with_image(hex_of(flash, 0x08000000 - 16))), "crc") ==
          verdict::pass);
}

TEST_CASE("image: a version stands by itself, with or without its v", "[facts]") {
    struct row {
        std::string text, version;
        bool is_there;
    };
    const auto r = GENERATE(
        row{"Module 1.2.0", "1.2.0", true}, row{"Module 1.2.0", "v1.2.0", true},
        row{"Module v1.2.0", "1.2.0", true}, row{"Module V1.2.0", "v1.2.0", true},
        row{"Module 1.2.0 of May", "v1.2.0", true}, row{"This is 1.2.0.", "1.2.0", true},
        row{"(1.2.0)", "1.2.0", true}, row{"module/1.2.0", "1.2.0", true},
        row{"Module 11.2.0", "1.2.0", false}, row{"Module 1.2.01", "1.2.0", false},
        row{"Module 1.2.0.1", "1.2.0", false}, row{"Module 0.1.2.0", "1.2.0", false},
        row{"Module 1.2.0-rc1", "1.2.0", false}, row{"Module 1.2.0+dirty", "v1.2.0", false},
        row{"rev1.2.0", "1.2.0", false}, row{"Module 10.2", "0", false},
        row{"Module 0", "0", false}, row{"Module 10.2", "0.2", false},
        row{"Module v2", "v2", false}, row{"build nightly-7", "nightly-7", true},
        row{"build vnightly", "nightly", false});
    firmware_image image;
    image.segments = {{0, bytes_of(r.text)}};
    CAPTURE(r.text, r.version);
    CHECK(has_version(image, r.version) == r.is_there);
}

TEST_CASE("image check: a build name that is too short is no proof", "[facts]") {
    auto m = image_expectations();
    m.checks.front().keys["build name"] = everywhere(word{"in the image"});
    auto facts = with_image(hex_of(firmware(2048, "Module 1.2.3\n0")));
    facts.build_name = "0";
    const auto r = judged(m, facts);
    CHECK(outcome_of(r, "build name") == verdict::unsure);
    CHECK_THAT(r.find("build name")->reason, Contains("too short"));
}

TEST_CASE("console check: a v before the version makes no other build", "[facts]") {
    auto facts = with_image(hex_of(firmware(2048)));
    facts.console = good_console();
    facts.console->version = "v1.2.3";
    CHECK(outcome_of(judged(console_expectations(), facts), "identity") == verdict::pass);
    auto m = console_expectations();
    m.checks.insert(m.checks.begin(), image_expectations().checks.front());
    std::vector<check_result> results;
    const auto b = simple_bench();
    add_by_facts(results, plan_run(m, b), facts, m, b);
    CHECK(outcome_of(results.at(1), "identity") == verdict::pass);
}

TEST_CASE("facts: what was kept is read again", "[facts]") {
    const temporary_folder folder;
    auto facts = with_image(hex_of(firmware(2048)));
    facts.build_name = "1.2.3";
    facts.console = good_console();
    facts.console->silence = "not UTF-8: \xFF";
    keep_facts(folder.path(), facts);
    const auto again = read_kept_facts(folder.path());
    REQUIRE(again.image);
    CHECK(again.image->bytes == facts.image->bytes);
    CHECK(again.image->name == "build.hex");
    REQUIRE(again.console);
    CHECK(again.console->memory.size() == 6);
    CHECK(again.console->load[2].told == Approx(41.7));
    CHECK(again.build_name == "1.2.3");
    write_file_atomically(folder.path() / "facts.json", "{\"format\": 3}");
    CHECK_THROWS(read_kept_facts(folder.path()));
    const temporary_folder nothing;
    CHECK_FALSE(read_kept_facts(nothing.path()).image);
}

TEST_CASE("facts: regions and patterns of a file are read, and mistakes are told", "[facts]") {
    const temporary_folder folder;
    const auto file = (folder.path() / "m.yaml").string();
    const auto read_with = [&](const std::string& keys) {
        write_file_atomically(
            file,
            "format: cvrig expectations 1\nmodule: M\npitch: {at 0 V: C2, per octave: 1 V}\n"
            "drive:\n  pitch: {from: 0 V, to: 4 V}\n  gate: {low: 0 V, high: 5 V}\n"
            "listen: [left]\nchecks:\n  image:\n" +
                keys);
        const auto specs = all_specs();
        return read_expectations(file, specs);
    };
    const auto m = read_with(
        "    memory:\n      flash: {from: 0x08000000, size: 128 KiB, used: at most 90 %}\n"
        "      RAM: {from: 0x20000000, size: 64 KiB}\n    version: \"V([0-9]+)\"\n");
    const auto* regions = m.checks.at(0).find<std::vector<memory_region>>("memory", {});
    REQUIRE(regions != nullptr);
    REQUIRE(regions->size() == 2);
    CHECK(regions->at(0).from == 0x08000000);
    CHECK(regions->at(0).size == 131072);
    CHECK(*regions->at(0).used.upper == 90.0);
    CHECK(*regions->at(1).used.upper == 65536.0);
    CHECK(m.checks.at(0).find<text_pattern>("version", {})->text == "V([0-9]+)");
    const auto refused = [&](const std::string& keys, const std::string& words) {
        CAPTURE(keys);
        CHECK_THROWS_WITH(read_with(keys), Contains(words));
    };
    refused("    memory: {}\n", "must name regions");
    refused("    memory: {flash: {from: here, size: 1 KiB}}\n", "is no address");
    refused("    memory: {flash: {from: 0, size: 1 kB}}\n", "KiB");
    refused("    memory: {flash: {from: 0}}\n", "size");
    refused("    memory: {flash: {from: 0, size: 1 KiB}, RAM: {from: 1023, size: 1 KiB}}\n",
            "share addresses");
    refused("    version: \"V(\"\n", "no regular expression");
}

TEST_CASE("facts: bytes are shown with the binary prefixes of IEC 80000-13", "[facts]") {
    CHECK(show(131072.0, dimension::bytes) == "128 KiB");
    CHECK(show(1000.0, dimension::bytes) == "1000 B");
    CHECK(show(1572864.0, dimension::bytes) == "1.5 MiB");
    CHECK(parse_measure("2 MiB")->in_base_unit == 2097152.0);
}
