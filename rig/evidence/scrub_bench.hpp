#pragma once

#include <string>

#include "rig/evidence/scrub.hpp"
#include "rig/expectations/yaml_tree.hpp"

namespace cvrig::evidence {

/// What a bench file says of this computer alone, and what came of it.
struct scrubbed_bench {
    yaml_node tree;
    scrub_count replaced;
};

/// A bench file's tree without what belongs to one desk: paths and file names among the arguments of programs
/// become "<path>" (their {names} stay), the address of the console and its serial number
/// become "left out", texts are scrubbed. Jacks, limits, scales, uncertainties and rates, by
/// which takes are judged, stay as they are. `has_trim`: the constants lie in a file "trim.yaml" beside it;
/// else a trim file is not mentioned.
[[nodiscard]] scrubbed_bench scrub_bench(yaml_node root, const private_names& names, bool has_trim);

/// An argument of a program without paths and file names: "image=build/a.hex" becomes "image=<path>".
[[nodiscard]] scrubbed_text scrubbed_argument(const std::string& argument,
                                              const private_names& names);

}  // namespace cvrig::evidence
