#include <fmt/format.h>

#include <array>

#include "rig/diagnosis/evidence.hpp"

namespace cvrig {

namespace {

std::string reason_of(const evidence& e, std::string_view demand) {
    for (const auto& f : e.result.findings)
        if (f.outcome == verdict::fail && f.name.starts_with(demand)) return f.reason;
    return {};
}

}  // namespace

std::optional<diagnosis> diagnose_image(const evidence& e) {
    if (e.failed("file") || e.failed("checksum") || e.failed("crc"))
        return diagnosis{"damaged image",
                         fmt::format("The file itself is not whole, so it says nothing of the "
                                     "firmware: build or copy it again. {}",
                                     reason_of(e, e.failed("file")       ? "file"
                                                  : e.failed("checksum") ? "checksum"
                                                                         : "crc"))};
    if (e.failed("memory"))
        return diagnosis{"over the budget", fmt::format("The build has grown beyond its room. {}",
                                                        reason_of(e, "memory"))};
    if (e.failed("version") || e.failed("build name"))
        return diagnosis{"wrong version",
                         fmt::format("The image is whole, but another build than it should be. {}",
                                     reason_of(e, e.failed("version") ? "version" : "build name"))};
    if (e.failed("format"))
        return diagnosis{"another format", "The file is an image of another format than demanded."};
    return std::nullopt;
}

std::optional<diagnosis> diagnose_console(const evidence& e) {
    if (e.failed("resets"))
        return diagnosis{"restarted",
                         "The module greeted anew in the run: it restarted, as by a watchdog, a "
                         "fault of its processor or a break of its supply."};
    if (e.failed("identity") && !e.only_failed("identity form"))
        return diagnosis{"another build runs",
                         fmt::format("The module does not say that it runs what it should. {}",
                                     reason_of(e, "identity"))};
    if (e.failed("memory loss") || e.failed("memory"))
        return diagnosis{
            e.failed("memory loss") ? "memory leaks" : "little memory",
            fmt::format("Free memory {}. {}",
                        e.failed("memory loss") ? "falls from take to take" : "is short",
                        reason_of(e, "memory"))};
    if (e.failed("load"))
        return diagnosis{
            "processor overloaded",
            fmt::format("The processor is busy for {} of its time.", text_of(e, "load"))};
    if (e.failed("answer"))
        return diagnosis{
            "console slow or mute",
            fmt::format("The console stopped answering in time. {}", reason_of(e, "answer"))};
    return std::nullopt;
}

}  // namespace cvrig
