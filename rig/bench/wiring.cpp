#include "rig/bench/wiring.hpp"

#include <fmt/format.h>

#include <algorithm>

#include "rig/bench/sockets.hpp"
#include "rig/expectations/dimension.hpp"

namespace cvrig {

namespace {

std::string in_volts(volts v) {
    return show(v.value(), dimension::volts, 4);
}

std::string carried(const driven_jack& jack) {
    return jack.is_gate ? fmt::format("{} or {}", in_volts(jack.low), in_volts(jack.high))
                        : fmt::format("{} to {}", in_volts(jack.low), in_volts(jack.high));
}

const bench_output* output_for(const bench& b, const std::string& jack) {
    const auto found = std::find_if(b.outputs.begin(), b.outputs.end(),
                                    [&](const auto& o) { return o.jack == jack; });
    return found == b.outputs.end() ? nullptr : &*found;
}

const bench_input* input_for(const bench& b, const std::string& jack) {
    const auto found = std::find_if(b.inputs.begin(), b.inputs.end(),
                                    [&](const auto& i) { return i.jack == jack; });
    return found == b.inputs.end() ? nullptr : &*found;
}

void add_drives(const bench& b, const module_expectations& m, wiring_card& card) {
    for (const auto& jack : m.drive) {
        if (const auto* o = output_for(b, jack.name))
            card.wires.push_back({.what = wire::kind::drive,
                                  .from = socket_of(*o),
                                  .to = jack.name,
                                  .carries = carried(jack),
                                  .from_channel = o->channel});
        else
            card.notes.push_back(fmt::format("No output of this bench feeds jack {}.", jack.name));
    }
    for (const auto& o : b.outputs)
        if (m.find_jack(o.jack) == nullptr)
            card.notes.push_back(fmt::format("{} stays unplugged: {} has no jack {}.", socket_of(o),
                                             m.module, o.jack));
}

void add_listens(const bench& b, const module_expectations& m, wiring_card& card) {
    for (const auto& jack : m.listen) {
        if (const auto* i = input_for(b, jack))
            card.wires.push_back({.what = wire::kind::listen,
                                  .from = jack,
                                  .to = socket_of(*i),
                                  .carries = "sound",
                                  .to_channel = i->channel});
        else
            card.notes.push_back(fmt::format("No input of this bench hears jack {}.", jack));
    }
}

std::string socket_or(const std::string& socket, const char* kind, std::size_t channel) {
    return socket.empty() ? fmt::format("{} {}", kind, channel) : socket;
}

void add_loop(const bench& b, wiring_card& card) {
    if (!b.loop) {
        card.notes.emplace_back(
            "This bench has no loop-back cable: without one from a free output to a free input, "
            "lost samples and a wrong gain of the interface cannot be told from the module.");
        return;
    }
    card.wires.push_back(
        {.what = wire::kind::loop_back,
         .from = socket_or(b.loop->output_socket, "output", b.loop->output_channel),
         .to = socket_or(b.loop->input_socket, "input", b.loop->input_channel),
         .carries = fmt::format("test signal, {} peak", in_volts(b.loop->level)),
         .from_channel = b.loop->output_channel,
         .to_channel = b.loop->input_channel});
}

std::string port_of(const console_settings& c) {
    switch (c.how) {
        case console_settings::way::serial_path:
        case console_settings::way::terminal:
            // What a placeholder stands for is known only when somebody says it.
            return c.path.starts_with('{') ? fmt::format("terminal {}", c.path) : c.path;
        case console_settings::way::usb:
            return fmt::format("USB {:04x}:{:04x}", c.vendor_id, c.product_id);
        case console_settings::way::tcp:
            return fmt::format("{}:{}", c.host, c.port);
        case console_settings::way::program:
            break;
    }
    return {};
}

void add_console(const bench& b, wiring_card& card) {
    if (!b.console || b.console->how == console_settings::way::program) return;
    const bool serial = b.console->how == console_settings::way::serial_path ||
                        b.console->how == console_settings::way::usb;
    card.wires.push_back({.what = wire::kind::console,
                          .from = port_of(*b.console),
                          .to = "console",
                          .carries = serial ? "text, by USB or serial cable" : "text"});
}

}  // namespace

std::vector<std::string> wiring_cautions() {
    return {
        "Power the case down before you connect or disconnect a power ribbon, and check its "
        "polarity: a reversed ribbon can destroy this module and its neighbours.",
        "Disconnect monitors, loudspeakers and headphones from the outputs that carry control "
        "voltages: DC destroys coils and hurts ears, and can be silent while it does.",
        "Plugging a jack shorts it for a moment: plug while the outputs stand at 0 V.",
        "A balanced output has its cold leg shorted by a mono plug: look up whether yours bears "
        "that, or take a cable that leaves the ring open.",
        "A module gives up to 10 V peak to peak, which overloads a line input: begin with the "
        "input turned down, or with an attenuator.",
        "Mains-powered equipment is opened only by licensed people under the local rules."};
}

wiring_card wiring_of(const bench& b, const module_expectations& m) {
    wiring_card card;
    card.bench = b.name;
    card.module = m.module;
    if (!b.audio) {
        card.notes.push_back(fmt::format(
            "Bench {} plays into a program, not into a module: there is nothing to plug.", b.name));
        return card;
    }
    card.interface = b.audio->device;
    add_drives(b, m, card);
    add_listens(b, m, card);
    add_loop(b, card);
    add_console(b, card);
    card.cautions = wiring_cautions();
    return card;
}

}  // namespace cvrig
