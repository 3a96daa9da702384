#pragma once

#include <memory>
#include <streambuf>

namespace cvrig {

/// While it lives, what the audio libraries would print by themselves stays off the terminal: the
/// rig says in its own words what went wrong.
///
/// Libraries print in three ways: libjack and ALSA through functions that can be exchanged, RtAudio
/// to std::cerr (lines that begin with "RtApi" or "RtAudio"). Everything else goes through as before.
class quiet_libraries {
public:
    /// The one that there is, or a new one. Whoever may still hear of a library, such as the thread
    /// that takes a stream down, keeps it.
    [[nodiscard]] static std::shared_ptr<quiet_libraries> keep();

    quiet_libraries();
    ~quiet_libraries();
    quiet_libraries(const quiet_libraries&) = delete;
    quiet_libraries& operator=(const quiet_libraries&) = delete;

private:
    class filter;
    std::unique_ptr<filter> filter_;
    std::streambuf* before_;
};

}  // namespace cvrig
