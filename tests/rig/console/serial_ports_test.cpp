#include "rig/console/serial_ports.hpp"

#include <algorithm>
#include <catch2/catch.hpp>
#include <filesystem>

using namespace cvrig;

TEST_CASE("serial ports are listed once each, sorted, and with a path that exists",
          "[console][serial]") {
    const auto ports = serial_ports();  // none on a machine without any
    CHECK(std::ranges::is_sorted(ports, std::ranges::less_equal{}, &serial_port_entry::path));
    for (const auto& p : ports) {
        CAPTURE(p.path);
        CHECK(std::filesystem::exists(p.path));
        CHECK(p.vendor_id.has_value() == p.product_id.has_value());
    }
}
