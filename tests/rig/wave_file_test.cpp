#include "rig/stimulus/wave_file.hpp"

#include <sndfile.h>
#include <sys/stat.h>

#include <array>
#include <catch2/catch.hpp>
#include <cstdint>
#include <cstring>
#include <fstream>
#include <iterator>
#include <limits>
#include <string>

#include "rig/platform/files.hpp"

namespace {

using namespace cvrig;
namespace fs = std::filesystem;
using Catch::Matchers::Contains;

recording three_channels(std::size_t frames) {
    recording r{sample_rate{48000.0}, std::vector<std::vector<float>>(3)};
    for (std::size_t i = 0; i < frames; ++i)
        for (std::size_t c = 0; c < 3; ++c)
            r.channels[c].push_back(static_cast<float>(i) * 0.001F - static_cast<float>(c) * 5.0F);
    return r;
}

std::string reason(const fs::path& file, std::size_t channels = 3) {
    try {
        (void)read_wave_file(file, channels);
    } catch (const wave_file_error& e) {
        CHECK_THAT(e.what(), Contains(file.string()));
        return e.reason();
    }
    return "it was read";
}

std::string bytes_of(const fs::path& file) {
    std::ifstream in{file, std::ios::binary};
    return {std::istreambuf_iterator<char>{in}, {}};
}

/// A file written by the library alone, in any of its forms.
void write_plain(const fs::path& file, int format, int rate_hz, const std::vector<float>& mono) {
    SF_INFO info{};
    info.samplerate = rate_hz;
    info.channels = 1;
    info.format = format;
    SNDFILE* out = sf_open(file.c_str(), SFM_WRITE, &info);
    REQUIRE(out != nullptr);
    REQUIRE(sf_writef_float(out, mono.data(), static_cast<sf_count_t>(mono.size())) ==
            static_cast<sf_count_t>(mono.size()));
    sf_close(out);
}

TEST_CASE("wave file: what was written is read back to the bit", "[rig][wave]") {
    const temporary_folder folder;
    const auto file = folder.path() / "take.wav";
    const auto frames = GENERATE(std::size_t{1}, std::size_t{4095}, std::size_t{4096},
                                 std::size_t{4097}, std::size_t{10000});
    auto sent = three_channels(frames);
    sent.channels[0][0] = std::numeric_limits<float>::denorm_min();
    sent.channels[1][0] = -0.0F;
    sent.channels[2][0] = 1234.5F;
    write_wave_file(file, sent);
    const auto back = read_wave_file(file, 3);
    CHECK(back.rate == sent.rate);
    CHECK(back.size() == frames);
    CHECK(back.channels == sent.channels);
}

TEST_CASE("wave file: the bytes are RIFF WAVE of 32-bit IEEE float, interleaved", "[rig][wave]") {
    // "Multimedia Programming Interface and Data Specifications 1.0" (1991), with format tag 3 =
    // WAVE_FORMAT_IEEE_FLOAT (RFC 2361). Offsets retyped from memory.
    const temporary_folder folder;
    const auto file = folder.path() / "take.wav";
    write_wave_file(file, {sample_rate{96000.0}, {{1.0F, 2.0F}, {-1.0F, -2.0F}}});
    const auto bytes = bytes_of(file);
    const auto word = [&](std::size_t at, int size) {
        std::uint32_t v = 0;
        for (int i = size - 1; i >= 0; --i)
            v = v << 8U | static_cast<unsigned char>(bytes.at(at + static_cast<std::size_t>(i)));
        return v;
    };
    CHECK(bytes.substr(0, 4) == "RIFF");
    CHECK(word(4, 4) == bytes.size() - 8);
    CHECK(bytes.substr(8, 8) == "WAVEfmt ");
    CHECK(word(20, 2) == 3);
    CHECK(word(22, 2) == 2);
    CHECK(word(24, 4) == 96000);
    CHECK(word(34, 2) == 32);
    const auto data = bytes.find("data");
    REQUIRE(data != std::string::npos);
    CHECK(word(data + 4, 4) == 16);
    // 1, -1, 2, -2 in IEEE 754 binary32.
    CHECK(word(data + 8, 4) == 0x3f800000U);
    CHECK(word(data + 12, 4) == 0xbf800000U);
    CHECK(word(data + 16, 4) == 0x40000000U);
    CHECK(word(data + 20, 4) == 0xc0000000U);
}

TEST_CASE("wave file: equal recordings give equal bytes", "[rig][wave]") {
    const temporary_folder folder;
    write_wave_file(folder.path() / "a.wav", three_channels(1000));
    write_wave_file(folder.path() / "b.wav", three_channels(1000));
    CHECK(bytes_of(folder.path() / "a.wav") == bytes_of(folder.path() / "b.wav"));
    CHECK(bytes_of(folder.path() / "a.wav").find("PEAK") == std::string::npos);
}

TEST_CASE("wave file: PCM full scale reads as one volt", "[rig][wave]") {
    const temporary_folder folder;
    const auto file = folder.path() / "pcm.wav";
    const int type = GENERATE(as<int>{}, SF_FORMAT_PCM_16, SF_FORMAT_PCM_24, SF_FORMAT_PCM_32);
    write_plain(file, SF_FORMAT_WAV | type, 44100, {0.5F, -0.5F});
    const auto r = read_wave_file(file, 1);
    CHECK(r.rate == sample_rate{44100.0});
    // One step of 16-bit PCM.
    CHECK_THAT(r.channels[0][0], Catch::WithinAbs(0.5, 1.0 / 32768));
    CHECK_THAT(r.channels[0][1], Catch::WithinAbs(-0.5, 1.0 / 32768));
    CHECK_FALSE(read_wave_format(file).is_float);
}

TEST_CASE("wave file: an unusable file says why", "[rig][wave]") {
    const temporary_folder folder;
    const auto file = folder.path() / "take.wav";
    SECTION("missing") {
        CHECK(reason(file) == "there is no such file");
    }
    SECTION("a folder") {
        CHECK(reason(folder.path()) == "it is not a regular file");
    }
    SECTION("a pipe, which could block for ever") {
        REQUIRE(::mkfifo(file.c_str(), 0600) == 0);
        CHECK(reason(file) == "it is not a regular file");
    }
    SECTION("empty") {
        write_file_atomically(file, "");
        CHECK(reason(file) == "it is empty");
    }
    SECTION("text") {
        write_file_atomically(file, "this is not a wave file\n");
        CHECK(reason(file) == "it is not a WAV file");
    }
    SECTION("another sound format") {
        write_plain(file, SF_FORMAT_AIFF | SF_FORMAT_FLOAT, 48000, {0.0F});
        CHECK(reason(file, 1) == "it is not a WAV file");
    }
    SECTION("another number of channels") {
        write_wave_file(file, three_channels(10));
        CHECK(reason(file, 2) == "it has 3 channels instead of 2");
    }
    SECTION("no samples") {
        write_wave_file(file, three_channels(0));
        CHECK(reason(file) == "it holds no samples");
    }
    SECTION("companded samples") {
        write_plain(file, SF_FORMAT_WAV | SF_FORMAT_ULAW, 48000, {0.0F});
        CHECK(reason(file, 1) == "its samples are U-Law; write 32-bit float");
    }
}

TEST_CASE("wave file: a file cut off anywhere is refused", "[rig][wave]") {
    const temporary_folder folder;
    const auto file = folder.path() / "take.wav";
    write_wave_file(file, three_channels(100));
    const auto whole = bytes_of(file);
    for (std::size_t size = 0; size < whole.size(); ++size) {
        write_file_atomically(file, std::string_view{whole}.substr(0, size), durability::unsynced);
        CAPTURE(size);
        CHECK(reason(file) != "it was read");
    }
    write_file_atomically(file, std::string_view{whole}.substr(0, whole.size() - 500));
    CHECK(reason(file) ==
          "it is cut off: its header promises 1200 bytes of samples, but only 700 are there");
}

TEST_CASE("wave file: foreign chunks of odd length before the samples are passed over",
          "[rig][wave]") {
    const temporary_folder folder;
    const auto file = folder.path() / "take.wav";
    write_wave_file(file, three_channels(100));
    auto bytes = bytes_of(file);
    // A chunk of odd length is followed by one byte of padding, which its length leaves out.
    bytes.insert(bytes.find("data"), std::string{"note\3\0\0\0abc\0", 12});
    bytes[4] = static_cast<char>(bytes[4] + 12);  // far from a carry: the file has 1256 bytes
    write_file_atomically(file, bytes);
    CHECK(read_wave_file(file, 3).channels == three_channels(100).channels);
}

TEST_CASE("wave file: channels of different lengths are a programming error", "[rig][wave]") {
    const temporary_folder folder;
    CHECK_THROWS_AS(write_wave_file(folder.path() / "x", {sample_rate{48000.0}, {{1.0F}, {}}}),
                    std::invalid_argument);
}

}  // namespace
