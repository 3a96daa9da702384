#include <fmt/format.h>
#include <libserialport.h>

#include <algorithm>
#include <filesystem>
#include <system_error>
#include <thread>
#include <vector>

#include "rig/console/port.hpp"
#include "rig/console/serial_ports.hpp"
#include "rig/expectations/wording.hpp"

namespace cvrig {

namespace {

using std::chrono::milliseconds;
using steady = std::chrono::steady_clock;

struct free_port {
    void operator()(sp_port* p) const noexcept { sp_free_port(p); }
};
struct free_events {
    void operator()(sp_event_set* e) const noexcept { sp_free_event_set(e); }
};
using port_handle = std::unique_ptr<sp_port, free_port>;
using event_handle = std::unique_ptr<sp_event_set, free_events>;

/// Closing can wait for half a minute until the other side has read everything, so what it has not
/// read is dropped, and somebody else does the closing.
void close_aside(port_handle p) noexcept {
    const std::shared_ptr<sp_port> shared{std::move(p)};
    const auto close = [shared] {
        sp_flush(shared.get(), SP_BUF_BOTH);
        sp_close(shared.get());
    };
    try {
        std::thread{close}.detach();
    } catch (const std::system_error&) {
        close();  // the machine is out of threads
    }
}

/// Waits for one event; false if the time is over first or the port is gone.
bool wait_for(const event_handle& events, milliseconds wait) {
    // 0 means for ever to the library.
    const auto ms = static_cast<unsigned>(std::clamp<long long>(wait.count(), 1, 60'000));
    return sp_wait(events.get(), ms) == SP_OK;
}

event_handle events_of(sp_port* p, sp_event which) {
    sp_event_set* raw = nullptr;
    if (sp_new_event_set(&raw) != SP_OK) return nullptr;
    event_handle events{raw};
    if (sp_add_port_events(raw, p, which) != SP_OK) return nullptr;
    return events;
}

class serial_port : public port {
public:
    serial_port(port_handle opened, event_handle readable, event_handle writable, std::string name)
        : port_{std::move(opened)},
          readable_{std::move(readable)},
          writable_{std::move(writable)},
          name_{std::move(name)} {}
    ~serial_port() override { close_aside(std::move(port_)); }
    serial_port(const serial_port&) = delete;
    serial_port& operator=(const serial_port&) = delete;

    moved_bytes read_some(std::span<char> into, milliseconds wait) override {
        if (sp_input_waiting(port_.get()) == 0) wait_for(readable_, wait);
        // A port that was unplugged is always readable and gives nothing; this call tells.
        const auto waiting = sp_input_waiting(port_.get());
        if (waiting < 0) return {0, true};
        if (waiting == 0) return {};
        const auto most = std::min(into.size(), static_cast<std::size_t>(waiting));
        const auto n = sp_nonblocking_read(port_.get(), into.data(), most);
        return n < 0 ? moved_bytes{0, true} : moved_bytes{static_cast<std::size_t>(n), false};
    }

    moved_bytes write(std::string_view bytes, milliseconds wait) override {
        const auto end = steady::now() + wait;
        moved_bytes done;
        while (done.count < bytes.size()) {
            const auto n = sp_nonblocking_write(port_.get(), bytes.data() + done.count,
                                                bytes.size() - done.count);
            if (n < 0) {
                done.gone = true;
                return done;
            }
            done.count += static_cast<std::size_t>(n);
            const auto left = std::chrono::duration_cast<milliseconds>(end - steady::now());
            if (n > 0) continue;
            if (left.count() <= 0) return done;
            wait_for(writable_, std::min(left, milliseconds{50}));
        }
        return done;
    }

    [[nodiscard]] std::string name() const override { return name_; }

private:
    port_handle port_;
    event_handle readable_;
    event_handle writable_;
    std::string name_;
};

std::string last_problem() {
    char* raw = sp_last_error_message();
    std::string text = raw == nullptr ? "the system gives no reason" : raw;
    sp_free_error_message(raw);
    return text;
}

/// 8 bits, no parity, one stop bit, no handshake; the lines that say "somebody is here" are on.
bool set_up(sp_port* p, int baud) {
    return sp_set_baudrate(p, baud) == SP_OK && sp_set_bits(p, 8) == SP_OK &&
           sp_set_parity(p, SP_PARITY_NONE) == SP_OK && sp_set_stopbits(p, 1) == SP_OK &&
           sp_set_flowcontrol(p, SP_FLOWCONTROL_NONE) == SP_OK;
}

opened_port open_path(const std::string& path, int baud) {
    std::error_code failed;
    const auto real = std::filesystem::canonical(path, failed);
    const auto name = failed ? path : real.string();
    sp_port* raw = nullptr;
    if (sp_get_port_by_name(name.c_str(), &raw) != SP_OK)
        return {nullptr,
                fmt::format("there is no serial port {}; plug the module in or correct the name",
                            path)};
    port_handle handle{raw};
    if (sp_open(raw, SP_MODE_READ_WRITE) != SP_OK) return {nullptr, last_problem()};
    if (!set_up(raw, baud)) {
        auto problem = fmt::format("it does not take {} baud: {}", baud, last_problem());
        close_aside(std::move(handle));
        return {nullptr, std::move(problem)};
    }
    auto readable = events_of(raw, SP_EVENT_RX_READY);
    auto writable = events_of(raw, SP_EVENT_TX_READY);
    if (!readable || !writable) {
        close_aside(std::move(handle));
        return {nullptr, "the system does not tell when it is ready"};
    }
    return {std::make_unique<serial_port>(std::move(handle), std::move(readable),
                                          std::move(writable), name),
            {}};
}

opened_port open_usb(const console_settings& how) {
    const auto found = path_of_port(how);
    if (found.path.empty()) return {nullptr, found.problem};
    return open_path(found.path, how.baud);
}

}  // namespace

opened_port open_serial_port(const console_settings& how) {
    return how.how == console_settings::way::usb ? open_usb(how) : open_path(how.path, how.baud);
}

}  // namespace cvrig
