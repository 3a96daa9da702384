#include "rig/console/serial_ports.hpp"

#include <fmt/format.h>
#include <libserialport.h>

#include <algorithm>
#include <memory>

#include "rig/expectations/user_error.hpp"
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

}  // namespace

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
