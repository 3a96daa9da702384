#include "rig/checks/image.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <array>
#include <optional>

#include "rig/checks/fact_findings.hpp"
#include "rig/checks/image_version.hpp"
#include "rig/checks/outside_facts.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/image/crc32.hpp"
#include "rig/image/little_endian.hpp"
#include "rig/image/memory_use.hpp"
#include "rig/image/read_image.hpp"
#include "rig/run/judging.hpp"

namespace cvrig {

namespace {

constexpr std::array formats{image_format::intel_hex, image_format::uf2, image_format::dfu,
                             image_format::elf, image_format::raw_binary};
constexpr std::string_view at_the_end = " in the last four bytes";
constexpr std::string_view big_end_first = ", high byte first";
/// A CRC is made over no more than this, however far apart the contents lie.
constexpr std::uint64_t most_crc_bytes = std::uint64_t{256} << 20;

std::optional<image_format> format_named(const word* w) {
    if (w == nullptr) return std::nullopt;
    const auto* found = std::ranges::find(formats, w->text, [](auto f) { return in_words(f); });
    return found == formats.end() ? std::nullopt : std::optional{*found};
}

std::vector<memory_region> regions_of(const check_request& request) {
    const auto* regions = request.wanted.find<std::vector<memory_region>>("memory", request.choice);
    return regions == nullptr ? std::vector<memory_region>{} : *regions;
}

address_range range_of(const memory_region& r) {
    return {r.from, r.size};
}

/// A file without addresses is written from the first region's beginning on.
void place(firmware_image& image, const std::vector<memory_region>& regions) {
    if (image.is_placed || regions.empty()) return;
    for (auto& s : image.segments) s.address += regions.front().from;
}

std::string first_of(const firmware_image& image, std::optional<image_fault::kind> only) {
    std::string first;
    std::size_t more = 0;
    for (const auto& f : image.faults) {
        if (only && f.what != *only) continue;
        if (first.empty())
            first = f.sentence;
        else
            ++more;
    }
    if (more > 0)
        first += fmt::format(" {} more fault{} found.", more, more == 1 ? " was" : "s were");
    return first;
}

void judge_file(fact_findings& out, const check_request& request, const firmware_image& image) {
    const auto wanted = format_named(request.wanted.find<word>("format", request.choice));
    const auto is = std::string{in_words(image.format)};
    out.tell("format", image.variant.empty() ? is : fmt::format("{} ({})", is, image.variant),
             !wanted || *wanted == image.format
                 ? std::string{}
                 : fmt::format("The file is {}, and {} is demanded.", is, in_words(*wanted)));
    const auto broken = first_of(image, image_fault::kind::structure);
    // What lies in a file that is not whole says nothing, so this is told whatever is demanded.
    if (out.wanted("file") || !broken.empty())
        out.tell_anyway("file", broken.empty() ? "sound" : "not sound", broken);
    else if (!image.warnings.empty() && !out.wanted("format"))
        out.tell_anyway("file", "sound", {});
    const auto wrong = first_of(image, image_fault::kind::checksum);
    if (image.carries_checksum || !wrong.empty())
        out.tell("checksum", wrong.empty() ? "right" : "wrong", wrong);
    else
        out.doubt("checksum", fmt::format("A file of the format {} carries no checksum; demand a "
                                          "'crc' that the build writes into it, or leave this out.",
                                          is));
}

void judge_region(fact_findings& out, const memory_region& r, const firmware_image& image,
                  double k) {
    const auto used = static_cast<double>(bytes_used(image, range_of(r)));
    const auto size = static_cast<double>(r.size);
    const bool is_share = r.used.unit == dimension::percent;
    finding f = out.blank("memory");
    f.name = r.name;
    f.allowed = r.used;
    const double share = 100.0 * used / size;
    auto at =
        fmt::format("{} of {}, {} free",
                    is_share ? show(used, dimension::bytes) : show(share, dimension::percent, 3),
                    show(size, dimension::bytes), show(size - used, dimension::bytes));
    f.measured = make_reading(is_share ? share : used, r.used.unit, {}, std::move(at));
    f.outcome = judge(*f.measured, r.used, k);
    if (f.outcome == verdict::fail)
        f.reason = fmt::format("The build takes {} of {}, but the file demands {}.",
                               show(f.measured->value, r.used.unit), r.name, r.used.text);
    out.add(std::move(f));
}

void judge_memory(fact_findings& out, const check_request& request, const firmware_image& image) {
    const auto regions = regions_of(request);
    if (regions.empty()) return;
    if (!image.unreadable.empty()) return out.doubt("memory", image.unreadable);
    std::vector<address_range> ranges;
    for (const auto& r : regions) {
        // Only a format that knows of memory without content can say what RAM is used.
        const bool tells = image.format == image_format::elf || bytes_used(image, range_of(r)) > 0;
        ranges.push_back(range_of(r));
        if (tells) {
            judge_region(out, r, image, request.module.coverage_factor);
            continue;
        }
        finding f = out.blank("memory");
        f.name = r.name;
        f.allowed = r.used;
        f.outcome = verdict::skipped;
        f.reason = fmt::format(
            "A file of the format {} does not tell what is used of {}; an ELF file "
            "does.",
            in_words(image.format), r.name);
        out.add(std::move(f));
    }
    const auto left = outside(image, ranges);
    if (left.empty()) return;
    finding f = out.blank("memory");
    f.name = "outside";
    f.outcome = verdict::fail;
    f.reason = fmt::format(
        "{} at {} lie in none of the regions{}.",
        show(static_cast<double>(left[0].size), dimension::bytes), address_in_words(left[0].from),
        left.size() > 1 ? fmt::format(", nor do {} other parts", left.size() - 1) : "");
    out.add(std::move(f));
}

const crc32_variant& variant_named(std::string_view text) {
    const auto* found = std::ranges::find_if(
        crc32_variants, [&](const crc32_variant& v) { return text.starts_with(v.name); });
    return found == crc32_variants.end() ? crc32_variants.front() : *found;
}

/// The build's own CRC: of all that comes before the last four bytes of the first region.
void judge_crc(fact_findings& out, const check_request& request, const firmware_image& image) {
    const auto* how = request.wanted.find<word>("crc", request.choice);
    if (how == nullptr) return;
    if (!image.unreadable.empty()) return out.doubt("crc", image.unreadable);
    const auto regions = regions_of(request);
    const address_range everything{0, UINT64_MAX};
    const auto bytes =
        contents(image, regions.empty() ? everything : range_of(regions.front()), most_crc_bytes);
    if (bytes.size() <= 4)
        return out.doubt("crc", "The image holds too little, or too far apart, for a CRC.");
    const auto tail = std::span{bytes}.last(4);
    std::uint32_t stated = little_endian<4>(tail, 0);
    if (how->text.ends_with(big_end_first))
        stated =
            (stated >> 24) | (stated >> 8 & 0xFF00U) | (stated << 8 & 0xFF0000U) | stated << 24;
    const auto& variant = variant_named(how->text);
    const auto is = crc32(std::span{bytes}.first(bytes.size() - 4), variant);
    out.tell(
        "crc", stated == is ? "right" : "wrong",
        stated == is
            ? std::string{}
            : fmt::format("The last four bytes are {:08X}, and the {} of the {} bytes before them "
                          "is {:08X}.",
                          stated, variant.name, bytes.size() - 4, is));
}

void judge_version(fact_findings& out, const check_request& request, const firmware_image& image,
                   const std::string& build_name) {
    if (const auto* p = request.wanted.find<text_pattern>("version", request.choice)) {
        const auto found = version_in(image, p->text);
        out.tell("version", found.text.empty() ? "not there" : found.text, found.wrong);
    }
    if (!out.wanted("build name")) return;
    if (build_name.empty())
        out.doubt("build name", "The run was not told the build's name; give it with --build.");
    else if (!is_telling(build_name))
        out.doubt("build name",
                  fmt::format("{} is too short to be told from chance; a build name needs {} "
                              "characters.",
                              cvrig::quoted(build_name), shortest_version));
    else
        out.tell("build name", build_name,
                 has_version(image, build_name)
                     ? std::string{}
                     : fmt::format("No text in the image says {}, which the run calls this build.",
                                   build_name));
}

/// What the reader of the file found odd stands with what is said of the file.
void add_notes(std::vector<finding>& all, const std::vector<std::string>& warnings) {
    auto of_file = std::ranges::find(all, "file", &finding::name);
    if (of_file == all.end()) of_file = std::ranges::find(all, "format", &finding::name);
    if (of_file != all.end()) of_file->notes = warnings;
}

check_result judge_image(const check_request& request, const outside_facts& facts) {
    if (!facts.image) return all_skipped(request, facts.no_image);
    fact_findings out{request};
    auto image = read_image(facts.image->bytes,
                            format_named(request.wanted.find<word>("format", request.choice)));
    place(image, regions_of(request));
    judge_file(out, request, image);
    judge_memory(out, request, image);
    judge_crc(out, request, image);
    judge_version(out, request, image, facts.build_name);
    check_result result;
    result.findings = std::move(out).take();
    add_notes(result.findings, image.warnings);
    return result;
}

std::vector<std::string> format_words() {
    std::vector<std::string> out;
    for (const auto f : formats) out.emplace_back(in_words(f));
    return out;
}

std::vector<std::string> crc_words() {
    std::vector<std::string> out;
    for (const auto& v : crc32_variants)
        for (const auto& order : {std::string_view{}, big_end_first})
            out.push_back(fmt::format("{}{}{}", v.name, at_the_end, order));
    return out;
}

}  // namespace

check image_check() {
    using form = key_spec::form;
    return {
        .spec = {.name = "image",
                 .plays = "nothing",
                 .reads = "whether the firmware file is whole and fits, and what it calls itself",
                 .keys = {{.name = "format",
                           .kind = form::word,
                           .words = format_words(),
                           .meaning = "the file is"},
                          {.name = "file",
                           .kind = form::word,
                           .words = {"sound"},
                           .meaning = "every record, block and header of the file is"},
                          {.name = "checksum",
                           .kind = form::word,
                           .words = {"right"},
                           .meaning = "every checksum that the format has is"},
                          {.name = "memory",
                           .kind = form::regions,
                           .meaning = "nothing lies elsewhere, and the build takes"},
                          {.name = "crc",
                           .kind = form::word,
                           .words = crc_words(),
                           .meaning = "the first region ends with a CRC of all before it:"},
                          {.name = "version",
                           .kind = form::pattern,
                           .meaning = "a text in the image, whose first group is the version, "
                                      "matches"},
                          {.name = "build name",
                           .kind = form::word,
                           .words = {"in the image"},
                           .meaning =
                               "the name given with --build (3 or more characters, with or without "
                               "a 'v' before its number, and no part of a longer one: 1.2.0 is "
                               "neither in 11.2.0 nor in 1.2.0-rc1) is"}},
                 .hears = false},
        .plan = nullptr,
        .judge = nullptr,
        .judge_facts = judge_image};
}

}  // namespace cvrig
