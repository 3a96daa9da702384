// Files runs as a cvrig does that ends a run: file_runs ADDRESS FIRST LAST files those with the keys FIRST to LAST.

#include <iostream>
#include <string>

#include "tests/rig/history/store_fixture.hpp"

int main(int argc, char** argv) {
    using namespace cvrig::history;
    if (argc != 4) return 2;
    const std::string address = argv[1];
    try {
        for (int n = std::stoi(argv[2]); n <= std::stoi(argv[3]); ++n) {
            // Opened anew each time, so that the first ones also meet in making the schema.
            const auto db = open_history(address, opening::to_write);
            static_cast<void>(
                file_run_alone(*db, small_run(std::to_string(n % 5)), keyed(std::to_string(n))));
        }
    } catch (const std::exception& e) {
        std::cerr << e.what() << '\n';
        return 1;
    }
    return 0;
}
