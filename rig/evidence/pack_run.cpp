#include "rig/evidence/pack_run.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <iterator>

#include "rig/console/port.hpp"
#include "rig/evidence/gathering.hpp"
#include "rig/evidence/member_name.hpp"
#include "rig/evidence/pack_files.hpp"
#include "rig/evidence/pack_takes.hpp"
#include "rig/evidence/read_report.hpp"
#include "rig/evidence/scrub_records.hpp"
#include "rig/evidence/told_console.hpp"
#include "rig/evidence/unpack.hpp"
#include "rig/link/program_link.hpp"
#include "rig/platform/files.hpp"
#include "rig/run/kept_run.hpp"
#include "rig/run/plain_name.hpp"

namespace cvrig::evidence {

namespace {

namespace fs = std::filesystem;

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

/// The names of this run that nobody else needs: who, where, and how the console is reached, by the bench file
/// and by what the run says of it.
private_names names_of(const pack_request& asked, const bench& b) {
    auto out = asked.names;
    auto consoles = consoles_told_in_json(bytes_of(asked.run / member::report));
    const auto add = [&](std::vector<std::string> more) {
        std::ranges::move(more, std::back_inserter(consoles));
    };
    if (const auto facts = asked.run / member::facts; fs::exists(facts))
        add(consoles_told_in_json(bytes_of(facts)));
    if (const auto log = asked.run / member::log; fs::exists(log))
        add(consoles_told_in(bytes_of(log)));
    if (b.console) consoles.push_back(port_in_words(*b.console));
    for (const auto& one : consoles)
        if (one.find('{') == std::string::npos) add_console(out, one);
    return out;
}

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
    const auto kept = read_kept_bench(asked.run);
    const auto told = read_report_of(asked.run);
    const auto names = names_of(asked, kept);
    const auto report = asked.run / member::report;
    const temporary_folder working{folder_for(asked)};
    gathering to{working.path()};
    packed_run out;

    const auto suspicious = pack_expectations(to, asked.run, names);
    const auto clean_bench = pack_bench(to, asked.run, kept, names);
    const auto clean_report =
        scrubbed_report(bytes_of(report), report.string(), link_in_words(told, clean_bench), names);
    auto said = read_report(clean_report.text, report.string());
    name_originals(said, asked.run);
    out.what = described(asked, said);
    to.add_text(std::string{member::report}, clean_report);
    add_records(to, asked, names);
    out.what.image = add_facts(to, asked, names);
    out.bytes_before = pack_takes(to, asked.run, names);
    if (suspicious > 0)
        out.stays.push_back(
            fmt::format("The expectation file holds {} that looks like a path, an address "
                        "or a name of yours; judging goes by it, so it stays.",
                        suspicious == 1 ? "a word" : "words"));
    if (asked.with_image)
        out.stays.emplace_back(
            "The firmware file goes in byte by byte; it may hold paths of the computer that built "
            "it.");
    out.what.left_out = left_out(out.what, to);
    for (const auto& m : to.members()) out.what.members.push_back(m.what);
    out.file = asked.to.empty() ? fs::path{evidence_name(out.what)} : asked.to;
    write_evidence(out, to);
    return out;
}

}  // namespace cvrig::evidence
