#include "rig/image/memory_use.hpp"

#include <algorithm>

namespace cvrig {

namespace {

/// Both ends belong to it, so that the last address there is can be one.
struct stretch {
    std::uint64_t first, last;
};

void add(std::vector<stretch>& to, std::uint64_t address, std::uint64_t size) {
    if (size == 0) return;
    const auto reach = std::min(size - 1, UINT64_MAX - address);
    to.push_back({address, address + reach});
}

/// By address, touching and overlapping ones joined.
std::vector<stretch> taken(const firmware_image& image) {
    std::vector<stretch> all;
    for (const auto& s : image.segments) add(all, s.address, s.bytes.size());
    for (const auto& r : image.rooms) add(all, r.address, r.size);
    std::ranges::sort(all, {}, &stretch::first);
    std::vector<stretch> out;
    for (const auto& s : all) {
        const bool joins =
            !out.empty() && (s.first <= out.back().last || s.first - out.back().last == 1);
        if (joins)
            out.back().last = std::max(out.back().last, s.last);
        else
            out.push_back(s);
    }
    return out;
}

}  // namespace

std::uint64_t bytes_used(const firmware_image& image, const address_range& in) {
    if (in.size == 0) return 0;
    const auto end = in.from + std::min(in.size - 1, UINT64_MAX - in.from);
    std::uint64_t sum = 0;
    for (const auto& s : taken(image)) {
        const auto first = std::max(s.first, in.from);
        const auto last = std::min(s.last, end);
        if (first <= last) sum += last - first + 1;
    }
    return sum;
}

std::vector<address_range> outside(const firmware_image& image,
                                   std::span<const address_range> ranges) {
    std::vector<stretch> known;
    for (const auto& r : ranges) add(known, r.from, r.size);
    std::ranges::sort(known, {}, &stretch::first);
    std::vector<address_range> out;
    for (const auto& s : taken(image)) {
        auto next = s.first;
        bool more = true;
        for (const auto& k : known) {
            if (!more || k.first > s.last) break;
            if (k.last < next) continue;
            if (k.first > next) out.push_back({next, k.first - next});
            more = k.last < s.last;
            next = more ? k.last + 1 : next;
        }
        if (more) out.push_back({next, s.last - next + 1});
    }
    return out;
}

std::vector<std::byte> contents(const firmware_image& image, const address_range& in,
                                std::uint64_t most_bytes) {
    std::vector<std::byte> out;
    std::uint64_t first = 0;
    for (const auto& s : image.segments) {
        // A segment may begin before the range, or run beyond it.
        const auto skipped = s.address < in.from ? in.from - s.address : 0;
        if (skipped >= s.bytes.size() || !in.holds(s.address + skipped)) continue;
        const auto address = s.address + skipped;
        const auto inside = static_cast<std::size_t>(
            std::min<std::uint64_t>(s.bytes.size() - skipped, in.size - (address - in.from)));
        if (out.empty()) first = address;
        const auto at = address - first;
        if (at > most_bytes || inside > most_bytes - at) return {};
        out.resize(static_cast<std::size_t>(at), std::byte{0xFF});
        const auto from = s.bytes.begin() + static_cast<std::ptrdiff_t>(skipped);
        out.insert(out.end(), from, from + static_cast<std::ptrdiff_t>(inside));
    }
    return out;
}

std::vector<std::string> texts_in(const firmware_image& image, std::size_t shortest) {
    std::vector<std::string> out;
    std::string run;
    const auto finish = [&] {
        if (run.size() >= shortest) out.push_back(run);
        run.clear();
    };
    for (const auto& s : image.segments) {
        for (const auto byte : s.bytes) {
            const char c = static_cast<char>(byte);
            if ((c >= ' ' && c <= '~') || c == '\t')
                run += c;
            else
                finish();
        }
        finish();
    }
    return out;
}

}  // namespace cvrig
