#include "rig/run/kept_facts.hpp"

#include <fmt/format.h>

#include <fstream>
#include <nlohmann/json.hpp>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;
using nlohmann::json;

constexpr std::string_view format_line = "cvrig facts 1";

std::vector<std::byte> bytes_of(const fs::path& file) {
    constexpr std::uintmax_t most = std::uintmax_t{1} << 30;
    std::error_code error;
    const auto size = fs::file_size(file, error);
    if (!error && size > most)
        throw user_error{
            fmt::format("The image file {} is larger than 1 GiB; give the firmware's "
                        "file with --image.",
                        file.string())};
    std::ifstream in{file, std::ios::binary};
    std::vector<std::byte> out(error ? 0 : static_cast<std::size_t>(size));
    // Reading bytes as characters is what char is for ([basic.lval]/11).
    in.read(reinterpret_cast<char*>(out.data()), static_cast<std::streamsize>(out.size()));
    if (error || !in)
        throw user_error{fmt::format("The image file {} cannot be read.", file.string())};
    return out;
}

json numbers(const std::vector<console_number>& all) {
    auto out = json::array();
    for (const auto& n : all)
        out.push_back({{"at_s", n.at.value()}, {"told", n.told}, {"digit", n.digit}});
    return out;
}

std::vector<console_number> numbers(const json& all) {
    std::vector<console_number> out;
    for (const auto& n : all)
        out.push_back({seconds{n.at("at_s").get<double>()}, n.at("told").get<double>(),
                       n.at("digit").get<double>()});
    return out;
}

json console_in_json(const console_facts& c) {
    auto answers = json::array();
    for (const auto& a : c.answers)
        answers.push_back({{"asked", a.asked}, {"at_s", a.at.value()}, {"took_s", a.took.value()}});
    return {{"identity_question", c.identity_question},
            {"identity", c.identity},
            {"version", c.version},
            {"answers", answers},
            {"load_percent", numbers(c.load)},
            {"memory_bytes", numbers(c.memory)},
            {"silence", c.silence},
            {"trouble", c.trouble},
            {"resets", c.resets},
            {"doubts", c.doubts}};
}

console_facts console_from(const json& c) {
    console_facts out;
    c.at("identity_question").get_to(out.identity_question);
    c.at("identity").get_to(out.identity);
    c.at("version").get_to(out.version);
    for (const auto& a : c.at("answers"))
        out.answers.push_back({a.at("asked").get<std::string>(),
                               seconds{a.at("at_s").get<double>()},
                               seconds{a.at("took_s").get<double>()}});
    out.load = numbers(c.at("load_percent"));
    out.memory = numbers(c.at("memory_bytes"));
    c.at("silence").get_to(out.silence);
    c.at("trouble").get_to(out.trouble);
    c.at("resets").get_to(out.resets);
    c.at("doubts").get_to(out.doubts);
    return out;
}

}  // namespace

image_facts facts_of_image(const fs::path& file) {
    auto bytes = bytes_of(file);
    auto sum = sha256_of(bytes);
    return {file.filename().string(), std::move(sum), std::move(bytes)};
}

void forget_kept(const fs::path& folder) {
    std::error_code ignored;
    // The last two are left by evidence that was opened there.
    for (const char* name : {"facts.json", "image", "manifest.json", "packed-report.json"})
        fs::remove(folder / name, ignored);
    for (const auto& place : fs::directory_iterator{folder / "takes", ignored}) {
        for (const char* name : {"take.json", "stimulus.wav", "response.wav"})
            fs::remove(place.path() / name, ignored);
        // What somebody else put there stays, and with it the folder.
        fs::remove(place.path(), ignored);
    }
    for (const char* name : {"facts.json", "image"})
        if (fs::exists(folder / name))
            throw user_error{
                fmt::format("{} of an earlier run cannot be removed; choose another "
                            "folder with --report.",
                            (folder / name).string())};
}

void keep_facts(const fs::path& folder, const outside_facts& facts) {
    // A run without any take can be judged again as well.
    fs::create_directories(folder / "takes");
    json all{{"format", format_line}, {"build_name", facts.build_name}};
    if (facts.image) {
        all["image"] = {{"name", facts.image->name}, {"sha256", facts.image->sha256}};
        write_file_atomically(folder / "image", std::span<const std::byte>{facts.image->bytes});
    } else {
        all["no_image"] = facts.no_image;
    }
    if (facts.console)
        all["console"] = console_in_json(*facts.console);
    else
        all["no_console"] = facts.no_console;
    // What a console says need not be UTF-8.
    write_file_atomically(folder / "facts.json",
                          all.dump(2, ' ', false, json::error_handler_t::replace) + "\n");
}

outside_facts read_kept_facts(const fs::path& folder) {
    outside_facts out;
    out.no_image = out.no_console = "The run kept no such facts.";
    const auto file = folder / "facts.json";
    if (!fs::exists(file)) return out;
    std::ifstream in{file};
    try {
        const auto all = json::parse(in);
        if (all.at("format") != format_line)
            throw json::other_error::create(501, "format", nullptr);
        all.at("build_name").get_to(out.build_name);
        out.no_image = all.value("no_image", out.no_image);
        out.no_console = all.value("no_console", out.no_console);
        if (all.contains("image")) {
            out.image = facts_of_image(folder / "image");
            all.at("image").at("name").get_to(out.image->name);
            if (all.at("image").at("sha256") != out.image->sha256)
                throw user_error{
                    fmt::format("{} is not the firmware file of the run that {} tells of (SHA-256 "
                                "{} instead of "
                                "{}); keep the folder as `cvrig run --keep-takes` wrote it.",
                                (folder / "image").string(), file.string(), out.image->sha256,
                                all.at("image").at("sha256").get<std::string>())};
        }
        if (all.contains("console")) out.console = console_from(all.at("console"));
    } catch (const json::exception&) {
        throw user_error{
            fmt::format("{} does not hold the facts of a run; keep the folder as `cvrig run "
                        "--keep-takes` wrote it.",
                        file.string())};
    }
    return out;
}

}  // namespace cvrig
