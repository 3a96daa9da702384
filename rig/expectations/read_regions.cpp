#include <fmt/format.h>

#include <charconv>
#include <cmath>

#include "rig/expectations/fields.hpp"
#include "rig/expectations/limit.hpp"
#include "rig/expectations/read_value.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

std::optional<std::uint64_t> address_of(std::string_view text) {
    const bool is_hexadecimal = text.starts_with("0x") || text.starts_with("0X");
    if (is_hexadecimal) text.remove_prefix(2);
    std::uint64_t n = 0;
    const auto* end = text.data() + text.size();
    const auto read = std::from_chars(text.data(), end, n, is_hexadecimal ? 16 : 10);
    if (text.empty() || read.ec != std::errc{} || read.ptr != end) return std::nullopt;
    return n;
}

void read_from(const fields& f, memory_region& r, complaint_list& wrong) {
    const auto* node = f.required("from");
    if (node == nullptr) return;
    const auto text = text_of(*node, "from", wrong);
    if (text.empty()) return;
    if (const auto address = address_of(text)) {
        r.from = *address;
    } else {
        wrong.add(node->where, fmt::format("{} is no address; write for example 0x08000000.",
                                           cvrig::quoted(text)));
    }
}

void read_size(const fields& f, memory_region& r, complaint_list& wrong) {
    const auto size = f.required_quantity("size", dimension::bytes, "128 KiB");
    if (!size) return;
    constexpr double most = 1099511627776.0;  // 1 TiB
    if (*size >= 1.0 && *size <= most && *size == std::floor(*size))
        r.size = static_cast<std::uint64_t>(*size);
    else
        wrong.add(f.optional("size")->where,
                  "'size' must be a whole number of bytes, such as 128 KiB.");
}

/// In bytes, or in per cent of the size; without a word, what there is.
void read_used(const fields& f, memory_region& r, complaint_list& wrong) {
    const auto* node = f.optional("used");
    if (node == nullptr) {
        r.used.upper = static_cast<double>(r.size);
        r.used.unit = dimension::bytes;
        r.used.text = "at most " + show(static_cast<double>(r.size), dimension::bytes);
        return;
    }
    const auto text = text_of(*node, "used", wrong);
    if (text.empty()) return;
    const bool is_share = text.find('%') != std::string::npos;
    auto l = parse_limit(text, is_share ? dimension::percent : dimension::bytes, "used");
    if (l)
        r.used = std::move(*l);
    else
        wrong.add(node->where, l.error());
}

void refuse_overlaps(const std::vector<memory_region>& all, const place& where,
                     complaint_list& wrong) {
    for (std::size_t i = 0; i < all.size(); ++i)
        for (std::size_t j = i + 1; j < all.size(); ++j) {
            const auto& low = all[i].from <= all[j].from ? all[i] : all[j];
            const auto& high = all[i].from <= all[j].from ? all[j] : all[i];
            if (high.from - low.from < low.size)
                wrong.add(where, fmt::format("The regions {} and {} share addresses.",
                                             cvrig::quoted(low.name), cvrig::quoted(high.name)));
        }
}

}  // namespace

std::optional<value> read_regions(const yaml_node& node, const key_spec& key,
                                  complaint_list& wrong) {
    if (node.what != yaml_node::kind::map || node.entries.empty()) {
        wrong.add(node.where,
                  fmt::format("{} must name regions, such as 'flash: {{from: 0x08000000, size: 128 "
                              "KiB, used: at most 120 KiB}}'.",
                              cvrig::quoted(key.name)));
        return std::nullopt;
    }
    std::vector<memory_region> all;
    for (const auto& e : node.entries) {
        memory_region r;
        r.name = e.key;
        if (!is_name({e.key, e.where}, "a region", wrong)) continue;
        const fields f{e.value, "region " + cvrig::quoted(e.key), {"from", "size", "used"}, wrong};
        if (!f.usable()) continue;
        read_from(f, r, wrong);
        read_size(f, r, wrong);
        read_used(f, r, wrong);
        all.push_back(std::move(r));
    }
    refuse_overlaps(all, node.where, wrong);
    return value{std::move(all)};
}

}  // namespace cvrig
