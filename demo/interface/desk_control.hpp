#pragma once

#include "demo/interface/desk.hpp"
#include "demo/interface/patch_bay.hpp"

#include <string>
#include <string_view>

namespace ferrule {

/// What can be changed while the interface runs, one line at a time.
class desk_control {
public:
    desk_control(jack_client& jack, desk& on, patch_bay& bay, const desk_faults& faults)
        : jack_{jack}, desk_{on}, bay_{bay}, faults_{faults} {}

    /// Does what a line says and answers with one line: "ok", or "no: " and a sentence.
    ///
    ///   fault NAME[@PLACE]:MAGNITUDE     one more fault; a magnitude of 0 removes it
    ///   clear                            no fault any more
    ///   cables, back, loop FROM:TO,...   other cables of that kind; "none" unplugs them
    ///   plugged                          "ok" when both ends of every cable are there
    ///   freewheel on | off               as fast as the machine can, or by the clock
    ///   stall SECONDS                    the whole program stops; 0: until it is continued
    std::string obey(std::string_view line);

private:
    void act(std::string_view word, std::string_view rest);

    jack_client& jack_;
    desk& desk_;
    patch_bay& bay_;
    desk_faults faults_;
};

}  // namespace ferrule
