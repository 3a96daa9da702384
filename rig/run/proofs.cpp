#include "rig/run/proofs.hpp"

#include <algorithm>

namespace cvrig {

namespace {

finding proof_of(const std::string& check, const std::string& name, bool proven,
                 const std::string& reason) {
    finding f;
    f.check = check;
    f.name = name;
    f.outcome = proven ? verdict::pass : verdict::unsure;
    f.reason = proven ? std::string{} : reason;
    return f;
}

}  // namespace

check_result patch_proof(const patch_result& patch) {
    check_result out;
    out.check = "cables";
    out.reads = "where each cable leads, by the module's own sound";
    if (patch.as_wired) {
        for (const auto& [jack, outputs] : patch.reached_by) {
            const bool unproven =
                std::ranges::find(patch.unproven_jacks, jack) != patch.unproven_jacks.end();
            if (!unproven) out.findings.push_back(proof_of(out.check, "to " + jack, true, {}));
        }
        if (out.findings.empty())
            out.findings.push_back(proof_of(out.check, "as the bench file says", true, {}));
        return out;
    }
    for (const auto& sentence : patch.sentences)
        out.findings.push_back(proof_of(out.check, "as the bench file says", false, sentence));
    if (out.findings.empty())
        out.findings.push_back(proof_of(out.check, "as the bench file says", false,
                                        "the check of the cables was not finished"));
    return out;
}

check_result console_proof(const console_reply& reply) {
    check_result out;
    out.check = "console";
    out.reads = "whether the module answers by name";
    out.findings.push_back(proof_of(out.check, "identity", reply.ok, reply.problem));
    return out;
}

}  // namespace cvrig
