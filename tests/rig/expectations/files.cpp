#include "tests/rig/expectations/files.hpp"

#include <catch2/catch.hpp>
#include <fstream>
#include <functional>
#include <random>
#include <sstream>

#include "rig/bench/bench.hpp"

namespace {

std::vector<std::string> complaints_of(std::string_view bytes,
                                       const std::function<void(const std::string&)>& read) {
    const scratch_file file{bytes};
    std::vector<std::string> out;
    try {
        read(file.path());
    } catch (const cvrig::user_error& e) {
        for (const auto& c : e.complaints()) {
            const auto text = c.text();
            const auto start = file.path().size() + 1;  // the path and a colon
            out.push_back(text.substr(c.where.line > 0 ? start : start + 1));
        }
    }
    return out;
}

}  // namespace

scratch_file::scratch_file(std::string_view bytes) {
    std::random_device random;
    path_ = std::filesystem::temp_directory_path() /
            ("cvrig-test-" + std::to_string(random()) + std::to_string(random()) + ".yaml");
    std::ofstream out{path_, std::ios::binary};
    out.write(bytes.data(), static_cast<std::streamsize>(bytes.size()));
    if (!out) throw std::runtime_error{"cannot write " + path_.string()};
}

scratch_file::~scratch_file() {
    std::error_code ignored;
    std::filesystem::remove(path_, ignored);
}

std::string data_text(const std::string& name) {
    std::ifstream in{std::string{CVRIG_TEST_DATA} + "/" + name, std::ios::binary};
    std::ostringstream out;
    out << in.rdbuf();
    if (!in) throw std::runtime_error{"cannot read " + name};
    return out.str();
}

std::string edited(std::string text, const std::string& what, const std::string& with) {
    const auto at = text.find(what);
    if (at == std::string::npos) throw std::runtime_error{"not in the text: " + what};
    if (text.find(what, at + 1) != std::string::npos) {
        throw std::runtime_error{"more than once in the text: " + what};
    }
    return text.replace(at, what.size(), with);
}

const std::vector<cvrig::check_spec>& test_checks() {
    using form = cvrig::key_spec::form;
    using cvrig::dimension;
    const std::vector<std::string> answers{"goes on", "starts again"};
    static const std::vector<cvrig::check_spec> all{
        {"tracking",
         "a stair of notes",
         "the pitch of every note",
         {{"notes", form::stair, dimension::volts, {}, "says which notes are played", true},
          {"error", form::limit, dimension::cents, {}, "every note is in tune"},
          {"scale", form::limit, dimension::percent, {}, "an octave is as wide as it should be"},
          {"hysteresis", form::limit, dimension::cents, {}, "up and down give the same pitch"}}},
        {"slide",
         "pairs of notes",
         "how the pitch moves",
         {{"steps", form::steps, dimension::volts, {}, "says which slides are played", true},
          {"time constant", form::limit, dimension::seconds, {}, "a slide takes its time"},
          {"shape",
           form::word,
           dimension::ratio,
           {"exponential in volts", "linear in volts"},
           "the pitch moves in this shape"},
          {"arrival", form::limit, dimension::cents, {}, "a slide arrives at its note"}}},
        {"retrigger",
         "every kind of transition",
         "whether the envelope starts again",
         {{"slide", form::word, dimension::ratio, answers, "a slide does this"},
          {"new gate", form::word, dimension::ratio, answers, "a new gate does this"}}},
        {"accent",
         "plain and accented notes",
         "their levels",
         {{"hold", form::measure, dimension::seconds, {}, "says how long a note lasts"},
          {"level rise", form::limit, dimension::decibels, {}, "an accented note is louder"},
          {"level", form::limit, dimension::dbu, {}, "a note has its level"}}},
        {"clicks",
         "slides and gates",
         "clicks",
         {{"count", form::limit, dimension::count, {}, "there are few clicks"},
          {"cutoff", form::limit, dimension::hertz, {}, "the filter opens this far"},
          {"likeness", form::limit, dimension::ratio, {}, "left is like right"}}}};
    return all;
}

std::vector<std::string> complaints_about_expectations(std::string_view bytes) {
    return complaints_of(bytes, [](const std::string& file) {
        static_cast<void>(cvrig::read_expectations(file, test_checks()));
    });
}

std::vector<std::string> complaints_about_bench(std::string_view bytes) {
    return complaints_of(
        bytes, [](const std::string& file) { static_cast<void>(cvrig::read_bench(file)); });
}

cvrig::module_expectations read_text(std::string_view bytes) {
    const scratch_file file{bytes};
    return cvrig::read_expectations(file.path(), test_checks());
}
