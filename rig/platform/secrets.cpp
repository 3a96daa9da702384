#include "rig/platform/secrets.hpp"

#include <fcntl.h>
#include <fmt/format.h>
#include <openssl/crypto.h>
#include <sys/random.h>
#include <sys/stat.h>
#include <unistd.h>

#include <array>
#include <cerrno>
#include <cstdio>
#include <system_error>

#include "rig/expectations/user_error.hpp"
#include "rig/platform/descriptor.hpp"

namespace cvrig {

std::string unguessable() {
    std::array<unsigned char, 32> bytes{};
    std::size_t got = 0;
    while (got < bytes.size()) {
        const auto n = ::getrandom(bytes.data() + got, bytes.size() - got, 0);
        if (n < 0 && errno != EINTR)
            throw std::system_error{errno, std::generic_category(), "random bytes"};
        if (n > 0) got += static_cast<std::size_t>(n);
    }
    std::string text;
    for (const auto byte : bytes) text += fmt::format("{:02x}", byte);
    return text;
}

void write_private_file(const std::filesystem::path& file, std::string_view text) {
    auto part = file;
    part += ".part";
    ::unlink(part.c_str());
    descriptor to{::open(part.c_str(), O_WRONLY | O_CREAT | O_EXCL | O_CLOEXEC, 0600)};
    const bool written = to.is_open() && ::write(to.number(), text.data(), text.size()) ==
                                             static_cast<ssize_t>(text.size());
    if (!written || !to.close() || ::rename(part.c_str(), file.c_str()) != 0) {
        const int error = errno;
        ::unlink(part.c_str());
        throw user_error{fmt::format("cannot write '{}': {}", file.string(),
                                     std::generic_category().message(error))};
    }
}

bool is_same_secret(std::string_view a, std::string_view b) noexcept {
    return a.size() == b.size() && CRYPTO_memcmp(a.data(), b.data(), a.size()) == 0;
}

}  // namespace cvrig
