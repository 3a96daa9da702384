#include <catch2/catch.hpp>

#include "rig/image/crc32.hpp"
#include "rig/image/memory_use.hpp"
#include "rig/image/read_image.hpp"
#include "tests/rig/image/bytes.hpp"
#include "tests/rig/image/writers.hpp"

using namespace cvrig;
using namespace cvrig::testing;

namespace {

firmware_image read_hex(std::string_view text) {
    return read_image(bytes_of(text), image_format::intel_hex);
}

std::vector<std::byte> with_byte(std::vector<std::byte> file, std::size_t at, unsigned value) {
    file[at] = static_cast<std::byte>(value);
    return file;
}

}  // namespace

TEST_CASE("image: CRCs of 123456789 are those of the published catalogue", "[image]") {
    // Check values of the catalogue of parametrised CRC algorithms (CRC RevEng), from memory; those
    // of ISO-HDLC and JAMCRC also in the appendix of the DFU suffix's reference programs.
    struct published {
        std::size_t variant;
        std::uint32_t check;
    };
    const auto row =
        GENERATE(published{0, 0xCBF43926}, published{1, 0x340BC6D9}, published{2, 0xFC891918},
                 published{3, 0x0376E6E7}, published{4, 0xE3069283});
    CAPTURE(crc32_variants[row.variant].name);
    CHECK(crc32(bytes_of("123456789"), crc32_variants[row.variant]) == row.check);
}

TEST_CASE("image: an Intel HEX file gives its bytes at their addresses", "[image]") {
    const auto image = read_image(example("ihex_example.hex"));
    CHECK(image.format == image_format::intel_hex);
    CHECK(faults_of(image).empty());
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].address == 0x08000000);
    CHECK(image.segments[0].bytes == bytes_of(payload));
}

TEST_CASE("image: Intel HEX records of the specification's kinds are read", "[image]") {
    // Intel, Hexadecimal Object File Format Specification, revision A, 1988: records of all six
    // types; the address of type 02 is a segment's (times 16).
    const auto image = read_hex(
        ":0300300002337A1E\n:020000021200EA\n:0300300002337A1E\n:0400000300003800C1\n"
        ":0400000508000000EF\n:00000001FF\n");
    CHECK(faults_of(image).empty());
    REQUIRE(image.segments.size() == 2);
    CHECK(image.segments[0].address == 0x30);
    CHECK(image.segments[1].address == 0x12030);
    CHECK(image.segments[1].bytes == bytes_of("\x02\x33\x7A"));
}

TEST_CASE("image: Intel HEX joins records across a 64 KiB boundary", "[image]") {
    const auto image = read_hex(
        ":020000040800F2\r\n:10FFF000000102030405060708090A0B0C0D0E0F89\r\n:020000040801F1\r\n"
        ":10000000101112131415161718191A1B1C1D1E1F78\r\n:040000050800FFF000\r\n:00000001FF\r\n");
    CHECK(faults_of(image).empty());
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].address == 0x0800FFF0);
    CHECK(image.segments[0].bytes.size() == 32);
}

TEST_CASE("image: a damaged Intel HEX file is told by line", "[image]") {
    struct row {
        std::string text, words;
        bool checksum;
    };
    const std::string end = ":00000001FF\n";
    const auto r = GENERATE_COPY(
        row{":0300300002337A1F\n" + end, "Line 1 has the checksum 1F, and its bytes make 1E.",
            true},
        row{":0300300002337A1E\n", "no end record", false},
        row{":0300300002337A1\n" + end, "Line 1 has half a byte", false},
        row{":0300300002337A1E00\n" + end, "Line 1 says that it has 3 data bytes, and has 4",
            false},
        row{":0300300002337X1E\n" + end, "Line 1 has a character that is no hexadecimal", false},
        row{"0300300002337A1E\n" + end, "Line 1 does not begin with a colon", false},
        row{end + ":0300300002337A1E\n", "Line 2 follows the end record", false},
        row{":00000006FA\n" + end, "Line 1 is of the unknown record type 06", false},
        row{":02FFFF000102FD\n" + end, "Line 1 runs past the end of its 64 KiB", false},
        row{":0300300002337A1E\n:0100320000CD\n" + end,
            "Different bytes are given for address 0x00000032, once in line 2.", false},
        row{":" + std::string(600, '0') + "\n" + end, "Line 1 is longer than any record", false},
        row{":\n" + end, "Line 1 says that it has 0 data bytes, and has 0", false});
    const auto image = read_hex(r.text);
    CAPTURE(r.text);
    CHECK_THAT(faults_of(image), Catch::Contains(r.words));
    CHECK(has_checksum_fault(image) == r.checksum);
}

TEST_CASE("image: bytes given twice alike are a warning, not a fault", "[image]") {
    const auto image = read_hex(":0300300002337A1E\n:0300300002337A1E\n:00000001FF\n");
    CHECK(faults_of(image).empty());
    REQUIRE(image.warnings.size() == 1);
    CHECK_THAT(image.warnings[0], Catch::Contains("The 3 bytes at 0x00000030 are given twice"));
}

TEST_CASE("image: a UF2 file gives its payload at its address", "[image]") {
    const auto image = read_image(example("uf2_example.uf2"));
    CHECK(image.format == image_format::uf2);
    CHECK(faults_of(image).empty());
    CHECK(image.variant == "family 0xE48BFF56");
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].address == 0x10000000);
    CHECK(image.segments[0].bytes.size() == 256);
    const auto begin = std::span{image.segments[0].bytes}.first(payload.size());
    CHECK(std::ranges::equal(begin, bytes_of(payload)));
}

TEST_CASE("image: UF2 blocks may come in any order and twice", "[image]") {
    const image_segment whole{0x10000000, std::vector<std::byte>(1000, std::byte{7})};
    const auto file = as_uf2(whole, 256);
    REQUIRE(file.size() == 4 * 512);
    std::vector<std::byte> shuffled;
    for (const std::size_t i : {3U, 1U, 0U, 1U, 2U})
        shuffled.insert(shuffled.end(), file.begin() + static_cast<std::ptrdiff_t>(512 * i),
                        file.begin() + static_cast<std::ptrdiff_t>(512 * (i + 1)));
    const auto image = read_image(shuffled);
    CHECK(faults_of(image).empty());
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].bytes == whole.bytes);
}

TEST_CASE("image: a damaged UF2 file is told by block", "[image]") {
    const auto good = as_uf2({0x10000000, std::vector<std::byte>(1000, std::byte{7})}, 256);
    struct row {
        std::vector<std::byte> file;
        std::string words;
    };
    auto cut = good;
    cut.resize(1100);
    auto short_one = good;
    short_one.resize(1024);
    auto other_total = good;
    put(other_total, 512 + 24, 5);
    auto twice = good;
    put(twice, 1024 + 20, 1);
    const auto r = GENERATE_COPY(
        row{with_byte(good, 512, 0), "Block 1 (offset 0x200) has a wrong magic number"},
        row{with_byte(good, 508, 0), "Block 0 (offset 0x0) has a wrong magic number"},
        row{with_byte(good, 17, 2),
            "Block 0 (offset 0x0) says that it has 512 bytes of at most 476"},
        row{with_byte(good, 12, 2), "no multiple of 4"},
        row{cut, "in the middle of block 2: 76 bytes"},
        row{short_one, "2 of 4 blocks are there; number 2 is missing."},
        row{other_total, "says that there are 5 blocks, and the first one says 4"},
        row{twice, "has the number 1 of another one with other content"});
    CHECK_THAT(faults_of(read_image(r.file, image_format::uf2)), Catch::Contains(r.words));
}

TEST_CASE("image: UF2 states the firmware's version in an extension tag", "[image]") {
    auto file = as_uf2({0x10000000, std::vector<std::byte>(256, std::byte{7})}, 256);
    put(file, 8, 0x00008000);
    // The specification's own example, version 0.1.2.
    const auto tag =
        bytes_of(std::string_view{"\x09\xbc\xc7\x9f"
                                  "0.1.2\0\0\0",
                                  12});
    std::ranges::copy(tag, file.begin() + 32 + 256);
    const auto image = read_image(file);
    CHECK(faults_of(image).empty());
    CHECK(image.stated_version == "0.1.2");
}

TEST_CASE("image: UF2 leaves out what is not for the flash and other families", "[image]") {
    auto file = as_uf2({0x10000000, std::vector<std::byte>(768, std::byte{7})}, 256);
    put(file, 8, 1);  // block 0: not main flash
    put(file, 512 + 8, 0x2000);
    put(file, 512 + 28, 0x68ED2B88);  // block 1: another family
    const auto image = read_image(file);
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].address == 0x10000200);
    REQUIRE(image.warnings.size() == 2);
    CHECK_THAT(image.warnings[0], Catch::Contains("Block 0 on holds content that is not for the "
                                                  "main flash"));
    CHECK_THAT(image.warnings[1], Catch::Contains("another family, 0x68ED2B88"));
}

TEST_CASE("image: a DFU suffix is checked and taken off", "[image]") {
    const auto image = read_image(example("dfu_example.dfu"));
    CHECK(image.format == image_format::dfu);
    CHECK(faults_of(image).empty());
    CHECK(image.variant == "bcdDFU 0100, vendor 0483, product DF11, device 0100");
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].bytes == bytes_of(payload));
}

TEST_CASE("image: a DFU file of the variant with addresses says so", "[image]") {
    // Written by dfu-suffix with bcdDFU 011A: vendor 1209, product 0001, device 2201.
    auto file = bytes_of(payload);
    const auto suffix = bytes_of(
        std::string_view{"\x01\x22\x01\x00\x09\x12\x1a\x01\x55\x46\x44\x10\xfd\x52\x8b\xe0", 16});
    file.insert(file.end(), suffix.begin(), suffix.end());
    const auto image = read_image(file);
    CHECK(faults_of(image).empty());
    CHECK_THAT(image.unreadable, Catch::Contains("bcdDFU 011A"));
}

TEST_CASE("image: a damaged DFU file is told", "[image]") {
    const auto good = example("dfu_example.dfu");
    const auto changed = read_image(with_byte(good, 0, 0x30));
    CHECK(has_checksum_fault(changed));
    CHECK_THAT(faults_of(changed), Catch::Contains("has the CRC ECF8E95F"));
    CHECK_THAT(faults_of(read_image(with_byte(good, 24, 0x30), image_format::dfu)),
               Catch::Contains("no DFU suffix"));
    CHECK_THAT(faults_of(read_image(with_byte(good, 27, 200))),
               Catch::Contains("says that it is 200 bytes long, which cannot be"));
}

TEST_CASE("image: flash and RAM of an ELF file are what its sections take", "[image]") {
    const auto image = read_image(example("elf_example_arm.elf"));
    CHECK(image.format == image_format::elf);
    CHECK(image.variant == "ELF32");
    CHECK(faults_of(image).empty());
    // By section: 64 + 80 + 1000 + 100 bytes of flash, 100 + 4096 + 64 bytes of RAM; `size` gives
    // text 1080, data 164, bss 4160, and counts the writable vector table as RAM.
    CHECK(bytes_used(image, {0x08000000, 0x20000}) == 1244);
    CHECK(bytes_used(image, {0x20000000, 0x10000}) == 4260);
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].bytes.size() == 1244);
}

TEST_CASE("image: an ELF file cut off anywhere is a fault and never a crash", "[image]") {
    const auto whole = example("elf_example_arm.elf");
    for (std::size_t n = 4; n < whole.size(); ++n) {
        CAPTURE(n);
        const auto image = read_image(std::span{whole}.first(n));
        REQUIRE_FALSE(image.faults.empty());
    }
}

TEST_CASE("image: an ELF file with headers from hell takes bounded memory", "[image]") {
    auto file = example("elf_example_arm.elf");
    SECTION("65535 segments") {
        put(file, 44, 0xFFFF0028);
    }
    SECTION("a table of sections far outside") {
        put(file, 32, 0xFFFFFFF0);
    }
    SECTION("big endian") {
        file[5] = std::byte{2};
    }
    SECTION("segments longer than the file") {
        put(file, 52 + 16, 0xFFFFFFFF);
    }
    CHECK_FALSE(read_image(file).faults.empty());
}

TEST_CASE("image: what the segments of an ELF file hold beside its sections is told", "[image]") {
    // One segment of 64 bytes, of which the section names all but the last 8.
    elf_builder elf;
    elf.add_content(std::vector<std::byte>(64, std::byte{7}));
    elf.segments = {{.offset = 0, .virtual_address = 0x100, .address = 0x08000000, .size = 64}};
    elf.sections = {{.address = 0x100, .offset = 0, .size = 56}};
    const auto image = read_image(elf.bytes());
    CHECK(faults_of(image).empty());
    REQUIRE(image.warnings.size() == 1);
    CHECK_THAT(image.warnings[0], Catch::Contains("hold 8 bytes") &&
                                      Catch::Contains("no section names; they are not judged"));
    elf.sections.push_back({.address = 0x138, .offset = 56, .size = 8});
    CHECK(read_image(elf.bytes()).warnings.empty());
}

TEST_CASE("image: an ELF file of very many sections and segments is read in their number",
          "[image]") {
    // 60,000 of each, whose comparison one by one would be 3.6 thousand million.
    constexpr std::uint32_t count = 60000;
    elf_builder elf;
    elf.add_content(std::vector<std::byte>(4 * count, std::byte{7}));
    for (std::uint32_t i = 0; i < count; ++i) {
        // Each runs elsewhere than its neighbours do, and is stored in the opposite order.
        const std::uint32_t runs_at = 0x20000000 + 8 * i;
        elf.segments.push_back({.offset = 4 * i,
                                .virtual_address = runs_at,
                                .address = 0x08000000 + 4 * (count - 1 - i),
                                .size = 4});
        elf.sections.push_back({.address = runs_at, .offset = 4 * i, .size = 4});
    }
    const auto image = read_image(elf.bytes());
    CHECK(faults_of(image).empty());
    CHECK(image.warnings.empty());
    REQUIRE(image.segments.size() == 1);
    CHECK(image.segments[0].address == 0x08000000);
    CHECK(image.segments[0].bytes.size() == 4 * count);
    CHECK(bytes_used(image, {0x20000000, 8 * count}) == 4 * count);
}

TEST_CASE("image: two segments of an ELF file at the same addresses are a fault", "[image]") {
    elf_builder elf;
    elf.add_content(std::vector<std::byte>(64, std::byte{7}));
    elf.segments = {{.offset = 0, .virtual_address = 0, .address = 0x08000000, .size = 64},
                    {.offset = 32, .virtual_address = 32, .address = 0x08001000, .size = 32}};
    elf.sections = {{.address = 0, .offset = 0, .size = 64}};
    CHECK_THAT(faults_of(read_image(elf.bytes())), Catch::Contains("Two segments overlap"));
}

TEST_CASE("image: contents of a range begin with what lies in it of a segment before it",
          "[image]") {
    firmware_image image;
    image.segments = {{0x100, bytes_of("abcdefgh")}, {0x10A, bytes_of("kl")}};
    CHECK(contents(image, {0x104, 0x100}, 1000) == bytes_of("efgh\xFF\xFFkl"));
    CHECK(contents(image, {0x104, 2}, 1000) == bytes_of("ef"));
    CHECK(contents(image, {0x108, 2}, 1000).empty());
    CHECK(contents(image, {0x100, 4}, 1000) == bytes_of("abcd"));
}

TEST_CASE("image: a raw binary has no marks and no addresses", "[image]") {
    const auto image = read_image(bytes_of("abc"));
    CHECK(image.format == image_format::raw_binary);
    CHECK_FALSE(image.is_placed);
    CHECK(image.segments.at(0).bytes == bytes_of("abc"));
    CHECK_FALSE(read_image({}).faults.empty());
}

TEST_CASE("image: what a range of addresses holds counts each address once", "[image]") {
    firmware_image image;
    image.segments = {{100, std::vector<std::byte>(50)}, {200, std::vector<std::byte>(10)}};
    image.rooms = {{120, 100}, {UINT64_MAX - 3, 100}};
    CHECK(bytes_used(image, {0, 1000}) == 120);
    CHECK(bytes_used(image, {110, 5}) == 5);
    CHECK(bytes_used(image, {UINT64_MAX - 9, 10}) == 4);
    const std::vector<address_range> known{{110, 100}};
    const auto left = outside(image, known);
    REQUIRE(left.size() == 3);
    CHECK((left[0].from == 100 && left[0].size == 10));
    CHECK((left[1].from == 210 && left[1].size == 10));
    CHECK((left[2].from == UINT64_MAX - 3 && left[2].size == 4));
    CHECK(contents(image, {0, 1000}, 1000).size() == 110);
    CHECK(contents(image, {0, 1000}, 100).empty());
}
