#include "rig/flash/prepare.hpp"

#include <fmt/format.h>

#include "rig/console/fill_in.hpp"
#include "rig/flash/flashed_console.hpp"
#include "rig/flash/run_step.hpp"
#include "rig/flash/step_command.hpp"
#include "rig/run/kept_facts.hpp"

namespace cvrig {

namespace {

namespace fs = std::filesystem;

std::optional<console_settings> console_of(const preparing& p) {
    if (!p.desk.console) return std::nullopt;
    return filled_in(*p.desk.console, p.names, p.search_folders);
}

std::vector<std::string> command_of(const preparing& p, const bench_step& step) {
    return cvrig::command_of(step, p.names, p.desk.flash ? console_of(p) : std::nullopt,
                             p.search_folders);
}

void take_step(const preparing& p, const std::string& name, const bench_step& step,
               preparation& into) {
    const auto command = command_of(p, step);
    if (p.begins) p.begins(name, in_words(command));
    into.steps.push_back(run_step(name, step, command, p.stop));
    if (p.ended) p.ended(into.steps.back());
}

void require_made(const preparing& p, const preparation& done) {
    if (p.image.empty() || fs::is_regular_file(p.image)) return;
    throw user_error{
        fmt::format("The build step ended well, but there is no image {}; correct 'makes' in the "
                    "bench file, or "
                    "--image; nothing was judged.{}",
                    p.image, last_lines(done.steps.back()))};
}

std::optional<fs::file_time_type> written_at(const std::string& image) {
    std::error_code failed;
    const auto at = fs::last_write_time(image, failed);
    return failed ? std::nullopt : std::optional{at};
}

/// With the last lines of whatever flashed.
flash_proof proof_of_flash(const preparing& p, const preparation& done) {
    const auto console = console_of(p);
    const std::string no_console =
        "Whether the module runs what was flashed is not known: this bench has no console.";
    if (!console) return {{no_console}, no_console};
    std::optional<image_facts> image;
    if (!p.image.empty()) image = facts_of_image(p.image);
    if (p.begins) p.begins("proof", {});
    try {
        return await_flashed(*console, p.module, image, p.stop);
    } catch (const user_error& e) {
        throw user_error{e.what() + last_lines(done.steps.back())};
    }
}

}  // namespace

void require_preparable(const preparing& p) {
    std::vector<complaint> wrong;
    for (const auto* step : {&p.desk.build, &p.desk.flash}) {
        if (!*step) continue;
        try {
            static_cast<void>(command_of(p, **step));
        } catch (const user_error& e) {
            wrong.insert(wrong.end(), e.complaints().begin(), e.complaints().end());
        }
    }
    if (!wrong.empty()) throw user_error{std::move(wrong)};
}

preparation prepare(const preparing& p) {
    preparation done;
    if (p.desk.build) {
        const auto before = written_at(p.image);
        take_step(p, "build", *p.desk.build, done);
        require_made(p, done);
        if (before && written_at(p.image) == before)
            done.facts.push_back(fmt::format(
                "The build step left the image {} as it was: there was nothing new to build.",
                p.image));
    }
    if (!p.desk.flash) return done;
    take_step(p, "flash", *p.desk.flash, done);
    auto proof = proof_of_flash(p, done);
    done.facts.insert(done.facts.end(), proof.facts.begin(), proof.facts.end());
    done.doubt = std::move(proof.doubt);
    return done;
}

}  // namespace cvrig
