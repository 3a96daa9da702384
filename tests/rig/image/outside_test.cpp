#include <algorithm>
#include <catch2/catch.hpp>
#include <fstream>
#include <sstream>

#include "rig/image/crc32.hpp"
#include "rig/image/memory_use.hpp"
#include "rig/image/read_image.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/process.hpp"
#include "tests/rig/image/bytes.hpp"

/// The same files, written and measured by programs that know nothing of this project: GNU binutils,
/// SRecord, dfu-util.

using namespace cvrig;
using namespace cvrig::testing;

namespace {

std::string said_by(const std::vector<std::string>& command, int status = 0) {
    const auto r = run_process(command);
    CAPTURE(command.front(), r.err.text);
    REQUIRE(r.how == process_result::ending::exited);
    REQUIRE(r.status == status);
    return r.out.text;
}

/// 3000 bytes without a pattern that a reader could hide behind.
std::vector<std::byte> made_up() {
    std::vector<std::byte> out;
    std::uint32_t x = 1;
    for (int i = 0; i < 3000; ++i) {
        x = x * 1664525U + 1013904223U;
        out.push_back(static_cast<std::byte>(x >> 24));
    }
    return out;
}

void write(const std::filesystem::path& file, const std::vector<std::byte>& bytes) {
    std::ofstream out{file, std::ios::binary};
    for (const auto b : bytes) out.put(static_cast<char>(b));
}

struct work_folder {
    temporary_folder folder;
    std::string file(const std::string& name) const { return (folder.path() / name).string(); }
};

}  // namespace

TEST_CASE("image: objcopy and srec_cat write Intel HEX that reads the same", "[image]") {
    const work_folder at;
    const auto bytes = made_up();
    write(at.file("a.bin"), bytes);
    said_by({"objcopy", "-I", "binary", "-O", "ihex", "--change-addresses", "0x0800FC00",
             at.file("a.bin"), at.file("a.hex")});
    said_by({"srec_cat", at.file("a.bin"), "-binary", "-offset", "0x0800FC00", "-o",
             at.file("b.hex"), "-intel"});
    for (const char* name : {"a.hex", "b.hex"}) {
        CAPTURE(name);
        const auto image = read_image(file_bytes(at.file(name)));
        CHECK(faults_of(image).empty());
        REQUIRE(image.segments.size() == 1);
        CHECK(image.segments[0].address == 0x0800FC00);
        CHECK(image.segments[0].bytes == bytes);
    }
}

TEST_CASE("image: dfu-suffix and this reader agree on good and damaged files", "[image]") {
    const work_folder at;
    write(at.file("a.dfu"), made_up());
    said_by({"dfu-suffix", "--vid", "0x1209", "--pid", "0x0001", "--did", "0x2201", "--add",
             at.file("a.dfu")});
    said_by({"dfu-suffix", "--check", at.file("a.dfu")});
    auto bytes = file_bytes(at.file("a.dfu"));
    const auto good = read_image(bytes);
    CHECK(faults_of(good).empty());
    CHECK_THAT(good.variant, Catch::Contains("vendor 1209, product 0001, device 2201"));
    CHECK(good.segments.at(0).bytes == made_up());
    bytes[1000] ^= std::byte{1};
    write(at.file("b.dfu"), bytes);
    // 65 is what dfu-util ends with for data that are wrong (sysexits.h: EX_DATAERR).
    said_by({"dfu-suffix", "--check", at.file("b.dfu")}, 65);
    CHECK(has_checksum_fault(read_image(bytes)));
}

TEST_CASE("image: the CRC that srec_cat appends is the one computed here", "[image]") {
    const work_folder at;
    write(at.file("a.bin"), made_up());
    said_by({"srec_cat", at.file("a.bin"), "-binary", "-crc32-l-e", "0xBB8", "-o", at.file("b.bin"),
             "-binary"});
    const auto bytes = file_bytes(at.file("b.bin"));
    REQUIRE(bytes.size() == 3004);
    std::uint32_t stated = 0;
    for (std::size_t i = 0; i < 4; ++i)
        stated |= std::to_integer<std::uint32_t>(bytes[3000 + i]) << 8 * i;
    CHECK(stated == crc32(made_up()));
}

TEST_CASE("image: size, readelf and objcopy measure the same ELF file", "[image]") {
    const work_folder at;
    const std::string elf = CVRIG_TEST_DATA "/image/elf_example_arm.elf";
    const auto image = read_image(file_bytes(elf));
    // Berkeley columns: text, data, bss. Flash is text + data whatever the flags say.
    std::istringstream table{said_by({"size", elf})};
    std::string heading;
    std::getline(table, heading);
    std::uint64_t text = 0, data = 0, bss = 0;
    table >> text >> data >> bss;
    CHECK(bytes_used(image, {0x08000000, 0x20000}) == text + data);
    // The vector table is writable by its flags and lies in flash all the same: 64 bytes.
    CHECK(bytes_used(image, {0x20000000, 0x10000}) == data - 64 + bss);
    CHECK_THAT(said_by({"readelf", "-hW", elf}), Catch::Contains("ELF32"));
    said_by({"objcopy", "-I", "elf32-little", "-O", "binary", elf, at.file("a.bin")});
    CHECK(file_bytes(at.file("a.bin")) == image.segments.at(0).bytes);
}

TEST_CASE("image: an ELF64 file that objcopy wrote reads as its raw binary", "[image]") {
    const work_folder at;
    write(at.file("a.bin"), made_up());
    said_by({"objcopy", "-I", "binary", "-O", "elf64-x86-64", "--rename-section",
             ".data=.text,contents,alloc,load,readonly,code", "--change-section-address",
             ".data=0x08000000", at.file("a.bin"), at.file("a.elf")});
    const auto image = read_image(file_bytes(at.file("a.elf")));
    CHECK(image.variant == "ELF64");
    CHECK(faults_of(image).empty());
    CHECK(image.segments.at(0).bytes == made_up());
}

TEST_CASE("image: texts are those that `strings` of binutils finds", "[image]") {
    const work_folder at;
    const auto bytes = made_up();
    write(at.file("a.bin"), bytes);
    std::string all;
    for (const auto& text : texts_in(read_image(bytes, image_format::raw_binary)))
        all += text + '\n';
    CHECK(all == said_by({"strings", "-a", "-n", "4", at.file("a.bin")}));
    CHECK_FALSE(all.empty());
}
