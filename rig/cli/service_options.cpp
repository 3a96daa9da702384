#include "rig/cli/service_options.hpp"

#include <filesystem>

#include "rig/cli/history_options.hpp"
#include "rig/platform/own_program.hpp"

namespace cvrig {

namespace {

void add_serve(CLI::App& app, service::serve_options& o) {
    auto* serve = app.add_subcommand(
        "serve", "Own a bench, run every new image, and show all of it on a page of this machine");
    serve->add_option("expectations", o.expectations, "Expectation file (YAML)")->required();
    serve->add_option("-b,--bench", o.bench, "Bench file (YAML)")->required();
    serve
        ->add_option("--watch", o.watch,
                     "Folder, or path of an image, in which new images are run; may be given again")
        ->take_all();
    serve->add_option("-u,--unit", o.unit,
                      "Which specimen is on the bench; stands for {unit} in the bench file");
    serve->add_option("--with", o.with, "name=value: stands for {name} in the bench file")
        ->take_all();
    add_history_option(*serve, o.history);
    serve->add_option("--reports", o.reports, "Folder for the runs' reports")
        ->capture_default_str();
    serve->add_option("--port", o.port, "Port of the page; 0: any that is free")
        ->capture_default_str()
        ->check(CLI::Range(0, 65535));
    serve->add_flag("--newest-first", o.newest_first,
                    "Run the newest of the waiting images first, not the oldest");
    serve->add_flag("--unattended", o.unattended,
                    "Nobody is there: skip what needs a hand on the module, and say so");
}

void add_submit(CLI::App& app, submit_arguments& a) {
    auto* submit = app.add_subcommand("submit", "Hand an image to the daemon, to be run in turn");
    submit->add_option("image", a.image, "Firmware image")->required();
    submit->add_option("--build-name", a.build_name, "Name of the build");
    submit->add_option("--commit", a.commit, "What `git describe` says of it");
    submit->add_option("-u,--unit", a.unit, "Which specimen is on the bench");
    submit->add_option("-b,--bench", a.bench, "Bench file whose daemon is meant");
    submit->add_flag("--wait", a.wait, "Wait for the verdict, and end as `cvrig run` does");
}

void add_status(CLI::App& app, status_arguments& a) {
    auto* status =
        app.add_subcommand("status", "Say what the daemon plays, how far it is, and what waits");
    status->add_option("-b,--bench", a.bench, "Bench file whose daemon is meant");
    status->add_flag("--json", a.json, "Print JSON instead of text");
}

}  // namespace

void add_service_commands(CLI::App& app, service_arguments& a) {
    add_serve(app, a.serve);
    add_submit(app, a.submit);
    add_status(app, a.status);
}

std::optional<exit_status> dispatch_service(const CLI::App& app, service_arguments& a) {
    if (app.got_subcommand("serve")) {
        a.serve.program = (std::filesystem::path{own_program_folder()} / "cvrig").string();
        return serve_command(a.serve);
    }
    if (app.got_subcommand("submit")) return submit_command(a.submit);
    if (app.got_subcommand("status")) return status_command(a.status);
    return std::nullopt;
}

}  // namespace cvrig
