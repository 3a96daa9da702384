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
         {{"notes", form::stair, dimension::volts, {}, "the notes to play", true},
          {"error", form::limit, dimension::cents, {}, "the pitch of every note is off by"},
          {"scale", form::limit, dimension::percent, {}, "an octave is too wide by"},
          {"hysteresis",
           form::limit,
           dimension::cents,
           {},
           "a note from below and from above differs by"}}},
        {"slide",
         "pairs of notes",
         "how the pitch moves",
         {{"steps", form::steps, dimension::volts, {}, "the slides to play", true},
          {"time constant", form::limit, dimension::seconds, {}, "every slide's time constant is"},
          {"shape",
           form::word,
           dimension::ratio,
           {"exponential in volts", "linear in volts"},
           "every slide is"},
          {"arrival", form::limit, dimension::cents, {}, "every slide misses its note by"}}},
        {"retrigger",
         "every kind of transition",
         "whether the envelope starts again",
         {{"slide", form::word, dimension::ratio, answers, "at a slide the envelope"},
          {"new gate", form::word, dimension::ratio, answers, "at a new gate the envelope"}}},
        {"accent",
         "plain and accented notes",
         "their levels",
         {{"hold", form::measure, dimension::seconds, {}, "how long a note lasts"},
          {"level rise", form::limit, dimension::decibels, {}, "an accent raises the level by"},
          {"level", form::limit, dimension::dbu, {}, "the level of a note is"}}},
        {"clicks",
         "slides and gates",
         "clicks",
         {{"count", form::limit, dimension::count, {}, "the number of clicks is"},
          {"cutoff", form::limit, dimension::hertz, {}, "the filter opens to"},
          {"likeness", form::limit, dimension::ratio, {}, "left is like right by"}}}};
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
