#define CATCH_CONFIG_RUNNER
#include <catch2/catch.hpp>
#include <cstdio>

#include "tests/own_folders.hpp"
#include "tests/support/live_bench.hpp"

/// Tests on the live bench; without a JACK server to start they are skipped, not passed.
int main(int argc, char** argv) {
    constexpr int skipped = 77;
    const cvrig::testing::own_folders ours;
    Catch::Session session;
    if (const int mistake = session.applyCommandLine(argc, argv); mistake != 0) return mistake;
    const auto& asked = session.configData();
    const bool lists = asked.listTests || asked.listTestNamesOnly || asked.listTags;
    if (!lists && !cvrig::test_support::live_bench::is_possible()) {
        std::puts("Skipped: there is no jackd on this machine; 'scripts/setup live' installs it.");
        return skipped;
    }
    return session.run();
}
