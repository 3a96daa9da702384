// Judges what only a build's file and its console betray, through cvrig itself, for several units:
// every demo build, and files that were spoiled on their way. Prints what each one was told.
// Usage: build_matrix EXPECTATIONS BENCH FIRMWARE_FOLDER [UNITS]
// UNITS is a count, or a range such as 3-5.
#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <fstream>
#include <iostream>
#include <nlohmann/json.hpp>
#include <set>
#include <sstream>

#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"

namespace {

using namespace cvrig;
namespace fs = std::filesystem;

/// What a build must be told: demands as "check: name", which fail; nothing else may.
struct build_row {
    std::string image;
    std::set<std::string> must;
    /// Others that it really touches.
    std::set<std::string> also{};
    /// Nothing further can be said of such a file; the rest may be unsure.
    bool is_broken{false};
};

struct places {
    std::string expectations, bench, firmware;
    fs::path own;
};

std::string text_of(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream text;
    text << in.rdbuf();
    return text.str();
}

const std::vector<build_row>& told_builds() {
    static const std::vector<build_row> rows{
        {"over-budget.hex", {"image: flash"}},
        {"broken-crc.hex", {"image: crc"}},
        {"dirty-tree.hex", {"image: version"}, {"console: identity"}},
        {"leaky.hex", {"console: memory loss"}},
        {"overloaded.hex", {"console: load"}},
        {"falls-silent.hex", {"console: answer"}, {"console: memory loss"}},
        {"restarts.hex", {"console: resets"}},
    };
    return rows;
}

/// Every other build of the demo: wrong in its sound at most.
std::vector<build_row> other_builds(const places& in) {
    std::vector<build_row> out;
    for (const auto& entry : fs::directory_iterator{in.firmware}) {
        const auto name = entry.path().filename().string();
        const bool told = std::ranges::any_of(
            told_builds(), [&](const build_row& row) { return row.image == name; });
        if (entry.path().extension() == ".hex" && !told) out.push_back({name, {}});
    }
    std::ranges::sort(out, {}, &build_row::image);
    return out;
}

/// The good build's file, spoiled on its way to the bench.
std::vector<build_row> spoiled_files(const places& in) {
    const auto whole = text_of(fs::path{in.firmware} / "good.hex");
    const auto keep = [&](const std::string& name, const std::string& text) {
        std::ofstream{in.own / name, std::ios::binary} << text;
        return (in.own / name).string();
    };
    auto one_digit = whole;
    const auto digit = whole.find('\n', whole.size() / 2) + 12;
    one_digit[digit] = whole[digit] == '0' ? '1' : '0';
    auto no_line = whole;
    const auto line = whole.find('\n', whole.size() / 3) + 1;
    no_line.erase(line, whole.find('\n', line) + 1 - line);
    return {
        {keep("cut-short.hex", whole.substr(0, whole.size() / 2)),
         {"image: file"},
         {"image: crc", "image: version"},
         true},
        {keep("one-digit.hex", one_digit), {"image: checksum"}, {"image: crc"}, true},
        {keep("one-line-missing.hex", no_line), {"image: crc"}},
        {keep("other-form.hex", std::string(4096, '\x5a')),
         {"image: file"},
         {"image: format", "image: version"},
         true},
        {keep("empty.hex", ""), {"image: file"}, {"image: version"}, true},
    };
}

/// The module still has another build than the one on the desk: it was never flashed.
std::string bench_of_unflashed(const places& in) {
    auto text = text_of(in.bench);
    const std::string console = "[ferrule, console, \"image={image}\"";
    const auto at = text.find(console);
    if (at == std::string::npos) throw std::runtime_error{in.bench + " has no such console"};
    text.replace(at, console.size(),
                 fmt::format("[ferrule, console, \"image={}/louder.hex\"", in.firmware));
    const auto file = in.own / "unflashed.bench.yaml";
    std::ofstream{file} << text;
    return file.string();
}

struct told {
    int status{-1};
    std::set<std::string> failed, unsure;
    std::string said;
};

told judged(const places& in, const std::string& bench, const std::string& image, unsigned unit) {
    const auto reports = in.own / "report";
    fs::remove_all(reports);
    const std::vector<std::string> argv{CVRIG_PROGRAM,
                                        "run",
                                        in.expectations,
                                        "--bench",
                                        bench,
                                        "--image",
                                        (fs::path{in.firmware} / image).string(),
                                        "--unit",
                                        std::to_string(unit),
                                        "--with",
                                        "state=none",
                                        "--history",
                                        "none",
                                        "--check",
                                        "console",
                                        "--check",
                                        "image",
                                        "--report",
                                        reports.string()};
    const auto done = run_process(argv);
    told out;
    out.status = done.status;
    out.said = done.out.text + done.err.text;
    if (!fs::exists(reports / "report.json")) return out;
    const auto report = nlohmann::json::parse(text_of(reports / "report.json"));
    for (const auto& check : report.at("checks")) {
        for (const auto& f : check.at("findings")) {
            const auto name = fmt::format("{}: {}", check.at("check").get<std::string>(),
                                          f.at("name").get<std::string>());
            const auto& verdict = f.at("verdict").get_ref<const std::string&>();
            if (verdict == "fail") out.failed.insert(name);
            if (verdict == "unsure" || verdict == "skipped") out.unsure.insert(name);
        }
    }
    return out;
}

struct sums {
    int runs{0};
    std::vector<std::string> false_passes, alarms;
};

void compare(const build_row& row, const std::string& label, const told& t, sums& into) {
    ++into.runs;
    const auto note = [&](std::vector<std::string>& where, std::string_view what) {
        where.push_back(fmt::format("{}: {}; status {}, failed [{}], unsure [{}]\n{}", label, what,
                                    t.status, fmt::join(t.failed, ", "), fmt::join(t.unsure, ", "),
                                    t.said));
    };
    if (!std::ranges::includes(t.failed, row.must)) note(into.false_passes, "not seen");
    if (t.status != (row.must.empty() ? 0 : 1)) note(into.false_passes, "ends with another status");
    std::vector<std::string> blamed;
    std::ranges::set_union(t.failed, t.unsure, std::back_inserter(blamed));
    std::erase_if(blamed, [&](const std::string& one) {
        return row.must.contains(one) || row.also.contains(one) ||
               (row.is_broken && t.unsure.contains(one));
    });
    if (!blamed.empty()) note(into.alarms, "blamed for more");
}

void examine(const places& in, const std::string& bench, const build_row& row,
             const std::string& label, std::pair<unsigned, unsigned> units, sums& into) {
    told last;
    for (unsigned unit = units.first; unit <= units.second; ++unit) {
        last = judged(in, bench, row.image, unit);
        compare(row, fmt::format("{}, unit {}", label, unit), last, into);
    }
    std::cout << fmt::format(
        "{:34} {}\n", label,
        last.failed.empty() ? "." : fmt::format("FAIL {}", fmt::join(last.failed, ", ")));
}

std::pair<unsigned, unsigned> units_of(const std::string& text) {
    const auto dash = text.find('-');
    const auto number = [](const std::string& s) { return static_cast<unsigned>(std::stoul(s)); };
    if (dash == std::string::npos) return {1U, number(text)};
    return {number(text.substr(0, dash)), number(text.substr(dash + 1))};
}

int print(const sums& s) {
    for (const auto& one : s.false_passes) std::cout << "\nFalse pass: " << one;
    for (const auto& one : s.alarms) std::cout << "\nFalse alarm: " << one;
    std::cout << fmt::format("\nfile and console: {} runs: {} false passes, {} false alarms\n",
                             s.runs, s.false_passes.size(), s.alarms.size());
    return s.false_passes.empty() && s.alarms.empty() ? 0 : 1;
}

int run_table(const std::vector<std::string>& words) {
    const temporary_folder folder;
    const places in{words.at(0), words.at(1), words.at(2), folder.path()};
    const auto units = units_of(words.size() > 3 ? words[3] : "10");
    sums s;
    for (const auto& rows : {told_builds(), other_builds(in), spoiled_files(in)}) {
        for (const auto& row : rows) {
            const auto label = fs::path{row.image}.filename().string();
            examine(in, in.bench, row, label, units, s);
        }
    }
    examine(in, bench_of_unflashed(in), {"good.hex", {"console: identity"}}, "never flashed", units,
            s);
    return print(s);
}

}  // namespace

int main(int argc, char** argv) {
    try {
        return run_table({argv + 1, argv + argc});
    } catch (const std::exception& e) {
        std::cerr << "build_matrix: " << e.what() << '\n';
        return 2;
    }
}
