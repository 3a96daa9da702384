#include <fmt/format.h>
#include <fmt/ranges.h>

#include <algorithm>
#include <iostream>

#include "rig/cli/commands.hpp"
#include "rig/console/serial_ports.hpp"
#include "rig/link/audio_devices.hpp"

namespace cvrig {

namespace {

/// What a device must have for a job.
struct needs {
    std::size_t outputs{3};  ///< pitch, gate, and one for the loop-back or an accent
    std::size_t inputs{2};
    sample_rate rate{48000.0};
};

needs needs_of(const bench& b) {
    needs out{0, 0, b.rate()};
    for (const auto& o : b.outputs) out.outputs = std::max(out.outputs, o.channel);
    for (const auto& i : b.inputs) out.inputs = std::max(out.inputs, i.channel);
    if (b.loop) {
        out.outputs = std::max(out.outputs, b.loop->output_channel);
        out.inputs = std::max(out.inputs, b.loop->input_channel);
    }
    return out;
}

std::string rates_in_words(const audio_device& d) {
    std::vector<std::string> khz;
    for (const double hz : d.rates_hz) khz.push_back(fmt::format("{:g}", hz / 1000.0));
    return khz.empty() ? "rates unknown" : fmt::format("{} kHz", fmt::join(khz, " "));
}

void print_audio(const std::vector<audio_device>& devices, const needs& n) {
    std::cout << fmt::format("Audio devices, for {} outputs, {} inputs, {:g} kHz:\n", n.outputs,
                             n.inputs, n.rate.value() / 1000.0);
    if (devices.empty()) {
        std::cout << "  None. Connect an interface and switch it on, or start its server.\n";
        return;
    }
    for (const auto& d : devices) {
        const auto wrong = shortcomings(d, n.outputs, n.inputs, n.rate);
        std::cout << fmt::format(
            "  {}  ({}, {} out, {} in, {})\n      {}\n", d.name, d.api, d.outputs, d.inputs,
            rates_in_words(d), wrong.empty() ? "fits" : fmt::format("{}", fmt::join(wrong, "; ")));
    }
}

void print_port(const serial_port_entry& p) {
    std::cout << fmt::format("  {}", p.path);
    if (p.vendor_id && p.product_id)
        std::cout << fmt::format("  USB {:04x}:{:04x}", *p.vendor_id, *p.product_id);
    if (!p.serial_number.empty()) std::cout << fmt::format(", serial number {}", p.serial_number);
    if (!p.description.empty()) std::cout << fmt::format("  ({})", p.description);
    std::cout << '\n';
    if (!p.problem.empty()) std::cout << fmt::format("      {}\n", p.problem);
}

}  // namespace

exit_status devices_command(const std::string& bench_file) {
    print_audio(audio_devices(), bench_file.empty() ? needs{} : needs_of(read_bench(bench_file)));
    std::cout << "\nSerial ports:\n";
    const auto ports = serial_ports();
    if (ports.empty())
        std::cout << "  None. Connect the module's USB cable; the module must be switched on.\n";
    for (const auto& p : ports) print_port(p);
    return exit_status::passed;
}

}  // namespace cvrig
