#include "rig/console/serial_ports.hpp"

#include <fmt/format.h>
#include <libserialport.h>

#include <algorithm>
#include <filesystem>
#include <memory>
#include <system_error>

#include "rig/expectations/user_error.hpp"
#include "rig/expectations/wording.hpp"
#include "rig/platform/access.hpp"

namespace cvrig {

namespace {

struct free_list {
    void operator()(sp_port** list) const noexcept { sp_free_port_list(list); }
};

std::string text(const char* known) {
    return known == nullptr ? std::string{} : std::string{known};
}

serial_port_entry described(const sp_port* port) {
    serial_port_entry e;
    e.path = text(sp_get_port_name(port));
    e.description = text(sp_get_port_description(port));
    int vendor = 0;
    int product = 0;
    if (sp_get_port_transport(port) == SP_TRANSPORT_USB &&
        sp_get_port_usb_vid_pid(port, &vendor, &product) == SP_OK) {
        e.vendor_id = static_cast<std::uint16_t>(vendor);
        e.product_id = static_cast<std::uint16_t>(product);
    }
    e.serial_number = text(sp_get_port_usb_serial(port));
    e.manufacturer = text(sp_get_port_usb_manufacturer(port));
    e.product = text(sp_get_port_usb_product(port));
    if (!may_read_and_write(e.path))
        e.problem = fmt::format(
            "You have no permission to use {}; join the group that owns it ('dialout' on Debian) "
            "and log in again.",
            e.path);
    return e;
}

bool is_wanted(const serial_port_entry& e, const console_settings& how) {
    return e.vendor_id == how.vendor_id && e.product_id == how.product_id &&
           (how.serial_number.empty() || e.serial_number == how.serial_number);
}

found_path path_of_usb(const console_settings& how) {
    std::vector<std::string> found;
    for (const auto& e : serial_ports())
        if (is_wanted(e, how)) found.push_back(e.path);
    if (found.empty()) return {{}, "no such device is plugged in"};
    if (found.size() == 1) return {found.front(), {}};
    return {{}, fmt::format("{} all have these ids; give the 'serial number', too", listed(found))};
}

}  // namespace

found_path path_of_port(const console_settings& how) {
    if (how.how == console_settings::way::usb) return path_of_usb(how);
    if (std::error_code ignored; std::filesystem::exists(how.path, ignored)) return {how.path, {}};
    return {{}, "it is not there; plug the module in and switch it on"};
}

std::vector<serial_port_entry> serial_ports() {
    sp_port** raw = nullptr;
    if (sp_list_ports(&raw) != SP_OK)
        throw user_error{"The system does not tell which serial ports there are."};
    const std::unique_ptr<sp_port*, free_list> list{raw};
    std::vector<serial_port_entry> out;
    for (sp_port** port = list.get(); *port != nullptr; ++port) out.push_back(described(*port));
    std::ranges::sort(out, {}, &serial_port_entry::path);
    return out;
}

}  // namespace cvrig
