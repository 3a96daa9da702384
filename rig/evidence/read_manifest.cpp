#include <fmt/format.h>

#include <algorithm>
#include <cmath>
#include <nlohmann/json.hpp>
#include <set>

#include "rig/evidence/manifest.hpp"
#include "rig/evidence/member_name.hpp"
#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/stimulus/flac_file.hpp"

namespace cvrig::evidence {

namespace {

using nlohmann::json;

constexpr std::string_view format_name{"cvrig evidence "};
constexpr std::size_t most_members = 100'000;
constexpr std::uintmax_t most_bytes = std::uintmax_t{1} << 36U;
constexpr std::size_t most_text_bytes = std::size_t{1} << 27U;
constexpr std::size_t most_image_bytes = std::size_t{1} << 30U;
constexpr double most_sound_bytes =
    4.0e9;  // of one take as floats, as write_wave_file() takes them
constexpr std::size_t most_channels = 1024;

/// Thrown inside, and told with the file's name.
struct fault {
    std::string what;
};

bool is_sha256(const std::string& text) {
    constexpr std::size_t digits = 64;
    return text.size() == digits && text.find_first_not_of("0123456789abcdef") == std::string::npos;
}

std::string sha256_in(const json& at, const char* key) {
    auto text = at.at(key).get<std::string>();
    if (!is_sha256(text)) throw fault{fmt::format("'{}' is no SHA-256", key)};
    return text;
}

/// A hash of something that a run may not have had.
std::string sha256_or_none(const json& at, const char* key) {
    return at.at(key).get<std::string>().empty() ? std::string{} : sha256_in(at, key);
}

std::uintmax_t count_in(const json& at, const char* key, std::uintmax_t most) {
    if (!at.at(key).is_number_unsigned()) throw fault{fmt::format("'{}' is no count", key)};
    const auto n = at.at(key).get<std::uintmax_t>();
    if (n > most) throw fault{fmt::format("'{}' is larger than it may be", key)};
    return n;
}

packed_channel channel_from(const json& at) {
    packed_channel out{at.at("jack").get<std::string>(),
                       volts{at.at("full_scale_volts").get<double>()}};
    int exponent = 0;
    if (!(out.full_scale.value() > 0.0) || !std::isfinite(out.full_scale.value()) ||
        std::frexp(out.full_scale.value(), &exponent) != 0.5)
        throw fault{"a full scale is no power of two"};
    return out;
}

packed_sound sound_from(const json& at, bool is_flac) {
    packed_sound out;
    const double hz = at.at("rate_hz").get<double>();
    if (!(hz >= 1.0 && hz <= 1e6)) throw fault{"a sample rate makes no sense"};
    out.rate = sample_rate{hz};
    for (const auto& c : at.at("channels")) out.channels.push_back(channel_from(c));
    if (out.channels.empty() ||
        out.channels.size() > (is_flac ? most_flac_channels : most_channels))
        throw fault{"a sound has no channels or too many"};
    out.frames = count_in(at, "frames", most_bytes);
    if (4.0 * static_cast<double>(out.frames * out.channels.size()) > most_sound_bytes)
        throw fault{"a sound is longer than cvrig plays"};
    out.why_wave = at.value("why_not_flac", "");
    return out;
}

packed_member member_from(const json& at) {
    packed_member out;
    at.at("name").get_to(out.name);
    if (!is_member_name(out.name))
        throw fault{fmt::format("{} is no member of evidence", cvrig::quoted(out.name))};
    const bool has_sound = is_sound(out.name);
    out.bytes = count_in(at, "bytes",
                         has_sound                   ? most_bytes
                         : out.name == member::image ? most_image_bytes
                                                     : most_text_bytes);
    out.sha256 = sha256_in(at, "sha256");
    if (has_sound) out.sound = sound_from(at.at("sound"), out.name.ends_with(".flac"));
    return out;
}

/// What it fills on the disk when it is unpacked, sound as floats.
double unpacked_bytes(const packed_member& m) {
    if (!m.sound) return static_cast<double>(m.bytes);
    return static_cast<double>(m.bytes) +
           4.0 * static_cast<double>(m.sound->frames * m.sound->channels.size());
}

void require_sane(const manifest& m) {
    std::set<std::string_view> names;
    double bytes = 0.0;
    for (const auto& one : m.members) {
        if (!names.insert(one.name).second)
            throw fault{fmt::format("{} comes twice", cvrig::quoted(one.name))};
        bytes += unpacked_bytes(one);
    }
    if (bytes > static_cast<double>(most_bytes)) throw fault{"it would fill more than 64 GiB"};
    for (const auto needed : {member::report, member::expectations, member::bench, member::run})
        if (m.find(needed) == nullptr) throw fault{fmt::format("it has no member '{}'", needed)};
    const auto* image = m.find(member::image);
    if (image != nullptr && (!m.image || image->sha256 != m.image->sha256))
        throw fault{"its firmware file is another one than it says"};
}

manifest manifest_from(const json& all) {
    manifest m;
    all.at("packed_by").get_to(m.packed_by);
    all.at("read_by").get_to(m.read_by);
    all.at("started").get_to(m.started);
    all.at("module").get_to(m.module);
    all.at("unit").get_to(m.unit);
    all.at("build").at("name").get_to(m.build_name);
    m.build_sha256 = sha256_or_none(all.at("build"), "sha256");
    all.at("bench").get_to(m.bench_name);
    m.expectations_sha256 = sha256_in(all, "expectations_sha256");
    m.bench_sha256 = sha256_in(all, "bench_sha256");
    if (all.contains("image")) {
        const auto& image = all.at("image");
        m.image = packed_image{count_in(image, "bytes", most_image_bytes),
                               sha256_in(image, "sha256"), image.at("inside").get<bool>()};
    }
    all.at("left_out").get_to(m.left_out);
    if (all.at("members").size() > most_members) throw fault{"it has too many members"};
    for (const auto& one : all.at("members")) m.members.push_back(member_from(one));
    require_sane(m);
    return m;
}

void require_format_1(const json& all, const std::string& file) {
    const auto format = all.is_object() && all.contains("format") && all.at("format").is_string()
                            ? all.at("format").get<std::string>()
                            : std::string{};
    if (format == "cvrig evidence 1") return;
    if (format.starts_with(format_name))
        throw user_error{
            fmt::format("{} is of the format {}, and this cvrig reads 'cvrig evidence 1'; "
                        "open it with a newer cvrig.",
                        file, cvrig::quoted(format))};
    throw user_error{
        fmt::format("{} is no evidence file, or its manifest is damaged; name a file that "
                    "`cvrig pack` made.",
                    file)};
}

}  // namespace

manifest read_manifest(std::string_view text, const std::string& file) {
    const auto all = json::parse(text, nullptr, false);
    require_format_1(all, file);
    std::string wrong;
    try {
        return manifest_from(all);
    } catch (const json::exception&) {
        wrong = "a key is missing or has a wrong kind of value";
    } catch (const fault& f) {
        wrong = f.what;
    }
    throw user_error{
        fmt::format("The manifest of {} cannot be used: {}; have the file made again with "
                    "`cvrig pack`.",
                    file, wrong)};
}

}  // namespace cvrig::evidence
