#include "rig/service/daemon_address.hpp"

#include <fmt/format.h>

#include <algorithm>
#include <fstream>
#include <nlohmann/json.hpp>
#include <optional>

#include "rig/platform/bench_lock.hpp"
#include "rig/platform/runtime_folder.hpp"
#include "rig/platform/secrets.hpp"

namespace cvrig::service {

namespace {

namespace fs = std::filesystem;
using json = nlohmann::json;

constexpr auto ending = ".daemon";

std::optional<daemon_address> read_address(const fs::path& file) {
    std::ifstream in{file};
    const auto told = json::parse(in, nullptr, false);
    if (!told.is_object()) return std::nullopt;
    return daemon_address{told.value("pid", 0),         told.value("port", 0),
                          told.value("token", ""),      told.value("bench", ""),
                          told.value("bench_file", ""), told.value("module", "")};
}

std::string list_of(const std::vector<daemon_address>& all) {
    std::string out;
    for (const auto& a : all) out += (out.empty() ? "" : ", ") + a.bench_file;
    return out;
}

}  // namespace

fs::path address_file_of(const fs::path& lock) {
    auto out = lock;
    return out.replace_extension(ending);
}

void write_address(const fs::path& file, const daemon_address& a) {
    const json told{{"pid", a.pid},
                    {"port", a.port},
                    {"token", a.token},
                    {"bench", a.bench},
                    {"bench_file", a.bench_file},
                    {"module", a.module}};
    write_private_file(file, told.dump(2, ' ', false, json::error_handler_t::replace) + "\n");
}

std::vector<daemon_address> living_daemons() {
    std::vector<daemon_address> out;
    std::error_code failed;
    for (fs::directory_iterator at{runtime_folder(), failed}, end; !failed && at != end;
         at.increment(failed)) {
        if (at->path().extension() != ending) continue;
        auto lock = at->path();
        const auto holder = holder_of(lock.replace_extension(".lock"));
        if (auto a = read_address(at->path()); a && holder.lives && holder.pid == a->pid)
            out.push_back(std::move(*a));
    }
    return out;
}

daemon_address find_daemon(const std::string& bench_file) {
    auto all = living_daemons();
    const auto named =
        bench_file.empty() ? std::string{} : fs::weakly_canonical(bench_file).string();
    if (!named.empty())
        std::erase_if(all, [&](const daemon_address& a) { return a.bench_file != named; });
    if (all.empty())
        throw no_daemon{
            named.empty()
                ? "No daemon runs; start one with `cvrig serve`."
                : fmt::format("No daemon serves {}; start one with `cvrig serve`.", named)};
    if (all.size() > 1)
        throw user_error{
            fmt::format("Several daemons run; name one of their bench files with "
                        "--bench: {}.",
                        list_of(all))};
    return all.front();
}

}  // namespace cvrig::service
