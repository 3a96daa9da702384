#include "rig/evidence/pack_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <sstream>

#include "rig/bench/trim_file.hpp"
#include "rig/checks/check.hpp"
#include "rig/evidence/gathering.hpp"
#include "rig/evidence/member_name.hpp"
#include "rig/evidence/read_report.hpp"
#include "rig/evidence/scrub_bench.hpp"
#include "rig/evidence/scrub_records.hpp"
#include "rig/evidence/write_yaml.hpp"
#include "rig/expectations/text_file.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/link/program_link.hpp"
#include "rig/platform/files.hpp"
#include "rig/run/kept_run.hpp"
#include "rig/run/plain_name.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

std::string bytes_of(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    std::ostringstream out;
    out << in.rdbuf();
    if (!in) throw user_error{fmt::format("cannot read '{}'", file.string())};
    return out.str();
}

yaml_node tree_of(const fs::path& file) {
    complaint_list wrong;
    auto root = read_yaml(read_text_file(file.string()), file.string(), wrong);
    wrong.raise();
    return root;
}

void require_kept(const fs::path& run) {
    if (!fs::is_directory(run))
        throw user_error{
            fmt::format("There is no folder {}; name the report folder of a `cvrig run "
                        "--keep-takes`.",
                        run.string())};
    for (const char* needed : {"takes", "expectations.yaml", "bench.yaml"})
        if (!fs::exists(run / needed))
            throw user_error{fmt::format(
                "{} holds no kept takes; run with --keep-takes and pack that.", run.string())};
}

/// The names of this run that nobody else needs: who, where, and the console's host.
private_names names_of(const pack_request& asked, const bench& b) {
    auto out = asked.names;
    if (b.console && b.console->how == console_settings::way::tcp &&
        b.console->host.find('{') == std::string::npos)
        out.hosts.push_back(b.console->host);
    return out;
}

/// Packs the two files that a user wrote, and reads them again as the opener will.
class written_files {
public:
    written_files(gathering& to, const pack_request& asked, const private_names& names)
        : to_{to}, run_{asked.run}, names_{names} {}

    /// As they are but for their comments: judging goes by every word.
    std::size_t add_expectations() {
        const auto tree = tree_of(run_ / "expectations.yaml");
        const auto text = yaml_text(tree);
        to_.add_text(std::string{member::expectations}, {text, {}});
        (void)read_expectations((to_.folder() / member::expectations).string(), all_specs());
        return scrubbed(text, names_).replaced.all();
    }

    /// The bench as a reader of the evidence will have it.
    bench add_bench(const bench& kept) {
        auto clean = scrub_bench(tree_of(run_ / "bench.yaml"), names_, kept.trimmed.has_value());
        if (kept.trimmed) add_trim(kept, clean.replaced);
        to_.add_text(std::string{member::bench}, {yaml_text(clean.tree), clean.replaced});
        return read_bench((to_.folder() / member::bench).string());
    }

private:
    void add_trim(const bench& kept, scrub_count& replaced) {
        auto constants = read_trim_file(kept.trim_file);
        for (auto* text : {&constants.bench, &constants.meter}) {
            auto clean = scrubbed(*text, names_);
            *text = std::move(clean.text);
            replaced += clean.replaced;
        }
        const auto file = to_.folder() / member::trim;
        write_trim_file(file.string(), constants);
        to_.add_file(std::string{member::trim}, file);
    }

    gathering& to_;
    const fs::path& run_;
    const private_names& names_;
};

std::string link_in_words(const told_run& told, const bench& scrubbed) {
    return scrubbed.audio || !told.link.starts_with("program ") ? told.link
                                                                : in_words(scrubbed.program);
}

/// Whether an image is known, and inside.
std::optional<packed_image> add_facts(gathering& to, const pack_request& asked,
                                      const private_names& names) {
    const auto file = asked.run / member::facts;
    const auto image = asked.run / member::image;
    const bool has_image = fs::exists(file) && fs::exists(image);
    if (asked.with_image && !has_image)
        throw user_error{
            fmt::format("{} kept no firmware file, which a run does for the checks 'image' "
                        "and 'console' only; pack without --with-image.",
                        asked.run.string())};
    if (fs::exists(file))
        to.add_text(std::string{member::facts},
                    scrubbed_facts(bytes_of(file), file.string(), asked.with_image, names));
    if (!has_image) return std::nullopt;
    if (asked.with_image) to.add_file(std::string{member::image}, image);
    return packed_image{fs::file_size(image), sha256_of_file(image), asked.with_image};
}

std::vector<std::string> jacks_in(const nlohmann::json& about, const char* key,
                                  const fs::path& file) {
    try {
        return about.at(key).get<std::vector<std::string>>();
    } catch (const nlohmann::json::exception&) {
        throw user_error{
            fmt::format("{} is not the description of a kept take; keep the folder as `cvrig "
                        "run --keep-takes` wrote it.",
                        file.string())};
    }
}

/// The bytes that its sound took before.
std::uintmax_t add_take(gathering& to, const fs::path& folder, const private_names& names) {
    const auto file = folder / "take.json";
    const auto text = bytes_of(file);
    const auto about = nlohmann::json::parse(text, nullptr, false);
    const auto name = fmt::format("takes/{}", folder.filename().string());
    const auto sent = jacks_in(about, "sent", file);
    auto stimulus = pack_sound(to.folder(), name + "/stimulus",
                               read_wave_file(folder / "stimulus.wav", sent.size()), sent);
    to.add_text(name + "/take.json",
                scrubbed_take(text, file.string(), rounding_volts(stimulus), names));
    to.add_sound(std::move(stimulus));
    auto bytes = fs::file_size(folder / "stimulus.wav");
    const auto response = folder / "response.wav";
    if (!fs::exists(response)) return bytes;
    const auto heard = jacks_in(about, "heard", file);
    to.add_sound(
        pack_sound(to.folder(), name + "/response", read_wave_file(response, heard.size()), heard));
    return bytes + fs::file_size(response);
}

std::uintmax_t add_takes(gathering& to, const fs::path& run, const private_names& names) {
    std::vector<fs::path> folders;
    for (const auto& entry : fs::directory_iterator{run / "takes"})
        if (fs::exists(entry.path() / "take.json") &&
            is_member_name(fmt::format("takes/{}/take.json", entry.path().filename().string())))
            folders.push_back(entry.path());
    std::ranges::sort(folders);
    std::uintmax_t bytes = 0;
    for (const auto& folder : folders) bytes += add_take(to, folder, names);
    return bytes;
}

void add_records(gathering& to, const pack_request& asked, const private_names& names) {
    const auto run = asked.run / member::run;
    if (!fs::exists(run))
        throw user_error{
            fmt::format("{} was kept by an older cvrig, which did not say what was asked; run "
                        "again with --keep-takes and pack that.",
                        asked.run.string())};
    to.add_text(std::string{member::run}, scrubbed_run(bytes_of(run), run.string(), names));
    if (const auto log = asked.run / member::log; fs::exists(log))
        to.add_text(std::string{member::log}, scrubbed_log(bytes_of(log), names));
}

manifest described(const pack_request& asked, const told_run& told) {
    manifest m;
    m.packed_by = asked.rig_version;
    m.read_by = told.rig_version;
    m.started = told.started;
    m.module = told.module;
    m.unit = told.unit;
    m.build_name = told.build_name;
    m.build_sha256 = told.build_sha256;
    m.bench_name = told.bench_name;
    m.expectations_sha256 = told.expectations_sha256;
    m.bench_sha256 = told.bench_sha256;
    return m;
}

std::vector<std::string> left_out(const manifest& m, const gathering& from) {
    std::vector<std::string> out;
    if (const auto what = from.replaced_in_words(); !what.empty())
        out.push_back(fmt::format("Replaced by words such as <path>: {}.", what));
    out.emplace_back(
        "The comments of the bench file and of the expectation file, and their names.");
    out.emplace_back("Times of day in run.log; it counts from its first line.");
    out.emplace_back("report.html, report.xml and sounds; `cvrig open` makes them again.");
    if (m.image && !m.image->is_inside)
        out.emplace_back("The firmware file; its hash is inside, and --with-image puts it in.");
    else if (!m.image && !m.build_sha256.empty())
        out.emplace_back("The firmware file, which this run did not keep; its hash is inside.");
    return out;
}

void write_evidence(packed_run& out, gathering& from) {
    const auto text = manifest_text(out.what);
    out.fingerprint = sha256_of(text);
    const auto file = from.folder() / member::manifest;
    write_file_atomically(file, text, durability::unsynced);
    std::vector<archive_source> sources{{std::string{member::manifest}, file}};
    for (const auto& m : from.members()) sources.push_back(m.from);
    write_archive(out.file, sources);
    out.bytes = fs::file_size(out.file);
}

/// Where to write; the folder must be there.
fs::path folder_for(const pack_request& asked) {
    const auto folder = asked.to.has_parent_path() ? asked.to.parent_path() : fs::path{"."};
    if (!fs::is_directory(folder))
        throw user_error{
            fmt::format("The folder {} does not exist; create it first.", folder.string())};
    if (fs::is_directory(asked.to))
        throw user_error{fmt::format("{} is a folder; name a file with -o.", asked.to.string())};
    return folder;
}

}  // namespace

std::string evidence_name(const manifest& m) {
    std::string name;
    for (const auto& part : {m.module, m.unit, m.build_name})
        if (!part.empty()) name += fmt::format("{}{}", name.empty() ? "" : "-", plain_name(part));
    return fmt::format("{}{}", name.empty() ? "run" : name, evidence_ending);
}

packed_run pack_run(const pack_request& asked) {
    require_kept(asked.run);
    (void)read_report_of(asked.run);
    const auto kept = read_kept_bench(asked.run);
    const auto names = names_of(asked, kept);
    const temporary_folder working{folder_for(asked)};
    gathering to{working.path()};
    packed_run out;

    const auto report = asked.run / member::report;
    const auto told = read_report_of(asked.run);
    written_files files{to, asked, names};
    const auto suspicious = files.add_expectations();
    const auto clean_bench = files.add_bench(kept);
    const auto clean_report =
        scrubbed_report(bytes_of(report), report.string(), link_in_words(told, clean_bench), names);
    out.what = described(asked, read_report(clean_report.text, report.string()));
    to.add_text(std::string{member::report}, clean_report);
    add_records(to, asked, names);
    out.what.image = add_facts(to, asked, names);
    out.bytes_before = add_takes(to, asked.run, names);
    if (suspicious > 0)
        out.stays.push_back(
            fmt::format("The expectation file holds {} that looks like a path, an address "
                        "or a name of yours; judging goes by it, so it stays.",
                        suspicious == 1 ? "a word" : "words"));
    out.what.left_out = left_out(out.what, to);
    for (const auto& m : to.members()) out.what.members.push_back(m.what);
    out.file = asked.to.empty() ? fs::path{evidence_name(out.what)} : asked.to;
    write_evidence(out, to);
    return out;
}

}  // namespace cvrig::evidence
