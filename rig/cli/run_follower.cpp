#include "rig/cli/run_follower.hpp"

#include "rig/platform/parent.hpp"
#include "rig/service/levels.hpp"

namespace cvrig {

run_follower::run_follower(const run_arguments& a, const bench& b, const interrupts& stop)
    : bench_{b}, stop_{stop} {
    if (a.tell < 0) return;
    end_with_parent(a.tell);
    teller_.emplace(a.tell);
}

void run_follower::begin(std::string_view step) {
    if (teller_) teller_->begin(step);
}

void run_follower::plays(const take_progress& p) {
    if (teller_) teller_->plays(p);
}

void run_follower::heard(const take& t) {
    // An audio interface has told it while it played.
    if (teller_ && !bench_.audio) teller_->heard(t, service::channels_of(bench_));
}

exit_status run_follower::ended(exit_status status) {
    if (teller_) teller_->end(static_cast<int>(status));
    return status;
}

session_follower run_follower::for_session() {
    if (!teller_) return {};
    session_follower out;
    out.ask = [this](const hand_action& action, const std::vector<std::string>& cautions) {
        return teller_->ask(action, cautions, stop_.token());
    };
    if (bench_.audio)
        out.tap = service::level_tap(*teller_, service::channels_of(bench_), bench_.rate());
    return out;
}

}  // namespace cvrig
