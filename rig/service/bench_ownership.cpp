#include "rig/service/bench_ownership.hpp"

#include <fmt/format.h>

#include <optional>
#include <thread>
#include <utility>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/platform/files.hpp"
#include "rig/platform/runtime_folder.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;
using steady = std::chrono::steady_clock;

fs::path lock_file(const std::string& of) {
    constexpr std::size_t digits = 16;
    return runtime_folder() / fmt::format("bench-{}.lock", sha256_of(of).substr(0, digits));
}

claim claim_on(const std::string& kind, const std::string& address) {
    return {fmt::format("{} {}", kind, cvrig::quoted(address)), lock_file(kind + " " + address)};
}

std::string address_of(const console_settings& c) {
    if (c.how == console_settings::way::tcp) return fmt::format("{}:{}", c.host, c.port);
    if (c.how == console_settings::way::usb)
        return fmt::format("{:04x}:{:04x} {}", c.vendor_id, c.product_id, c.serial_number);
    return c.path;
}

[[noreturn]] void refuse(const claim& c) {
    const auto holder = holder_of(c.lock);
    throw bench_in_use{fmt::format(
        "{} is in use by process {} ({}); wait until that has ended, or, if it is a daemon, hand "
        "your image to it with `cvrig submit`.",
        cvrig::capitalised(c.what), holder.pid, holder.what.empty() ? "cvrig" : holder.what)};
}

bench_lock taken(const claim& c, const std::string& what, steady::time_point until) {
    constexpr std::chrono::milliseconds pause{50};
    for (;;) {
        if (auto lock = bench_lock::take(c.lock, what)) return std::move(*lock);
        if (holder_of(c.lock).lives || steady::now() >= until) refuse(c);
        std::this_thread::sleep_for(pause);
    }
}

}  // namespace

std::vector<claim> claims_to_play(const bench& b) {
    if (!b.audio) return {};
    std::vector<claim> out{claim_on("the audio interface", b.audio->device)};
    if (b.console && b.console->how != console_settings::way::program)
        out.push_back(claim_on("the console", address_of(*b.console)));
    return out;
}

claim claim_on_file(const bench& b) {
    return claim_on("the bench", fs::weakly_canonical(b.file).string());
}

std::vector<claim> claims_to_serve(const bench& b) {
    auto out = claims_to_play(b);
    out.insert(out.begin(), claim_on_file(b));
    return out;
}

std::vector<bench_lock> own(const std::vector<claim>& claims, const std::string& what,
                            std::chrono::milliseconds patience) {
    const auto until = steady::now() + patience;
    std::vector<bench_lock> out;
    for (const auto& c : claims) out.push_back(taken(c, what, until));
    return out;
}

}  // namespace cvrig::service
