#define CATCH_CONFIG_RUNNER
#include <catch2/catch.hpp>

#include "tests/own_folders.hpp"

int main(int argc, char** argv) {
    const cvrig::testing::own_folders ours;
    return Catch::Session{}.run(argc, argv);
}
