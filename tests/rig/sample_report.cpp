// Prints the sample run as the page that a user gets, for tests in a browser and for looking at it.
#include <iostream>

#include "rig/report/html.hpp"
#include "sample_result.hpp"

int main() {
    std::cout << cvrig::html_report(cvrig::testing::sample_result(), cvrig::built_in_assets());
    return std::cout.good() ? 0 : 1;
}
