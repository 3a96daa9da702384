#include <rapidcheck.h>

#include <catch2/catch.hpp>

#include "rig/image/read_image.hpp"
#include "tests/rig/image/bytes.hpp"
#include "tests/rig/image/writers.hpp"

using namespace cvrig;
using namespace cvrig::testing;

namespace {

std::vector<std::byte> some_bytes(std::size_t least, std::size_t most) {
    const auto n = *rc::gen::inRange(least, most + 1);
    std::vector<std::byte> out;
    for (const auto b :
         *rc::gen::container<std::vector<unsigned char>>(n, rc::gen::arbitrary<unsigned char>()))
        out.push_back(static_cast<std::byte>(b));
    return out;
}

/// Apart from each other, by address, below 4 GiB.
std::vector<image_segment> some_segments() {
    std::vector<image_segment> out;
    std::uint64_t next = *rc::gen::inRange<std::uint32_t>(0, 0x80000000);
    const int count = *rc::gen::inRange(1, 4);
    for (int i = 0; i < count; ++i) {
        out.push_back({next, some_bytes(1, 300)});
        next += out.back().bytes.size() + *rc::gen::inRange<std::uint32_t>(1, 0x20000);
    }
    return out;
}

bool same(const std::vector<image_segment>& a, const std::vector<image_segment>& b) {
    return std::ranges::equal(a, b, [](const auto& x, const auto& y) {
        return x.address == y.address && x.bytes == y.bytes;
    });
}

}  // namespace

TEST_CASE("image: Intel HEX that was written is read back", "[image][property]") {
    CHECK(rc::check([] {
        const auto segments = some_segments();
        const auto width = *rc::gen::inRange<std::size_t>(1, 256);
        const auto image = read_image(bytes_of(as_intel_hex(segments, width)));
        RC_ASSERT(image.faults.empty());
        RC_ASSERT(same(image.segments, segments));
    }));
}

TEST_CASE("image: a changed character of Intel HEX is a fault or changes nothing",
          "[image][property]") {
    CHECK(rc::check([] {
        const auto segments = some_segments();
        auto text = as_intel_hex(segments, 16);
        const auto at = *rc::gen::inRange<std::size_t>(0, text.size());
        text[at] = *rc::gen::arbitrary<char>();
        const auto image = read_image(bytes_of(text), image_format::intel_hex);
        RC_ASSERT(!image.faults.empty() || same(image.segments, segments));
    }));
}

TEST_CASE("image: UF2 that was written is read back", "[image][property]") {
    CHECK(rc::check([] {
        auto bytes = some_bytes(1, 1500);
        bytes.resize((bytes.size() + 3) / 4 * 4);
        const image_segment whole{
            4 * std::uint64_t{*rc::gen::inRange<std::uint32_t>(0, 0x30000000)}, bytes};
        const auto width = 4 * *rc::gen::inRange<std::size_t>(1, 120);
        const auto image = read_image(as_uf2(whole, width));
        RC_ASSERT(image.faults.empty());
        RC_ASSERT(same(image.segments, {whole}));
    }));
}

TEST_CASE("image: a changed byte of a DFU file is a fault", "[image][property]") {
    const auto good = example("dfu_example.dfu");
    for (std::size_t at = 0; at < good.size(); ++at) {
        for (unsigned bit = 0; bit < 8; ++bit) {
            auto file = good;
            file[at] ^= static_cast<std::byte>(1U << bit);
            CAPTURE(at, bit);
            CHECK_FALSE(read_image(file, image_format::dfu).faults.empty());
        }
    }
}

TEST_CASE("image: no bytes whatever crash a reader or make more of them", "[image][property]") {
    CHECK(rc::check([] {
        // Half of them begin or end like a good file and go wrong inside.
        auto file = some_bytes(0, 2000);
        const auto like = *rc::gen::inRange(0, 6);
        const auto start_as = [&](const std::vector<std::byte>& good) {
            file.insert(file.begin(), good.begin(), good.end());
            const auto at = *rc::gen::inRange<std::size_t>(0, good.size());
            file[at] = static_cast<std::byte>(*rc::gen::arbitrary<unsigned char>());
        };
        if (like == 1) start_as(example("elf_example_arm.elf"));
        if (like == 2) start_as(example("uf2_example.uf2"));
        if (like == 3) start_as(example("ihex_example.hex"));
        for (const auto wanted : {image_format::intel_hex, image_format::uf2, image_format::dfu,
                                  image_format::elf, image_format::raw_binary}) {
            const auto image = read_image(file, wanted);
            std::size_t bytes = 0;
            for (const auto& s : image.segments) bytes += s.bytes.size();
            RC_ASSERT(bytes <= file.size());
        }
    }));
}
