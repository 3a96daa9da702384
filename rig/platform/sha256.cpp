#include <fmt/format.h>
#include <openssl/evp.h>

#include <array>
#include <cerrno>
#include <fstream>
#include <memory>
#include <system_error>
#include <vector>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/files.hpp"

namespace cvrig {
namespace {

class sha256_sum {
public:
    sha256_sum() : context_{EVP_MD_CTX_new(), &EVP_MD_CTX_free} {
        demand(context_ != nullptr &&
               EVP_DigestInit_ex(context_.get(), EVP_sha256(), nullptr) == 1);
    }

    void add(std::span<const std::byte> bytes) {
        demand(EVP_DigestUpdate(context_.get(), bytes.data(), bytes.size()) == 1);
    }

    [[nodiscard]] std::string hex() {
        std::array<unsigned char, EVP_MAX_MD_SIZE> digest{};
        unsigned int size = 0;
        demand(EVP_DigestFinal_ex(context_.get(), digest.data(), &size) == 1);
        std::string text;
        for (const auto byte : std::span{digest}.first(size)) text += fmt::format("{:02x}", byte);
        return text;
    }

private:
    static void demand(bool done) {
        if (!done) throw std::runtime_error{"the cryptographic library cannot compute SHA-256"};
    }

    std::unique_ptr<EVP_MD_CTX, decltype(&EVP_MD_CTX_free)> context_;
};

[[noreturn]] void refuse_to_read(const std::filesystem::path& file, std::string_view why) {
    throw user_error{fmt::format("cannot read '{}': {}", file.string(), why)};
}

}  // namespace

std::string sha256_of(std::span<const std::byte> bytes) {
    sha256_sum sum;
    sum.add(bytes);
    return sum.hex();
}

std::string sha256_of(std::string_view text) {
    return sha256_of(std::as_bytes(std::span{text}));
}

std::string sha256_of_file(const std::filesystem::path& file) {
    std::error_code failed;
    const auto kind = std::filesystem::status(file, failed).type();
    if (kind == std::filesystem::file_type::not_found)
        refuse_to_read(file, "there is no such file; check its name");
    if (kind == std::filesystem::file_type::directory)
        refuse_to_read(file, "it is a folder; name a file in it");
    errno = 0;
    std::ifstream source{file, std::ios::binary};
    if (!source) refuse_to_read(file, std::generic_category().message(errno));

    sha256_sum sum;
    std::vector<char> chunk(1U << 16U);
    while (source.read(chunk.data(), static_cast<std::streamsize>(chunk.size())) ||
           source.gcount() > 0)
        sum.add(std::as_bytes(std::span{chunk}.first(static_cast<std::size_t>(source.gcount()))));
    if (source.bad()) refuse_to_read(file, "reading stopped half-way");
    return sum.hex();
}

}  // namespace cvrig
