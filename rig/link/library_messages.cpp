#include "rig/link/library_messages.hpp"

#ifdef CVRIG_WITH_ALSA
#include <alsa/asoundlib.h>
#endif
#ifdef CVRIG_WITH_JACK
#include <jack/jack.h>
#endif

#include <iostream>
#include <mutex>
#include <string_view>

namespace cvrig {

namespace {

#ifdef CVRIG_WITH_ALSA
void drop_alsa_message(const char*, int, const char*, int, const char*, ...) {}
#endif
#ifdef CVRIG_WITH_JACK
void drop_jack_message(const char*) {}
#endif

bool is_of_rtaudio(std::string_view text) {
    return text.starts_with("RtApi") || text.starts_with("\nRtApi");
}

// Such as "RtAudio alsa: _NOT_ running realtime scheduling", which comes in pieces.
bool begins_line_of_rtaudio(std::string_view text) {
    return text.starts_with("RtAudio ");
}

}  // namespace

/// Passes everything on but the lines of RtAudio and the line end that it puts behind them.
class quiet_libraries::filter : public std::streambuf {
public:
    explicit filter(std::streambuf* to) : to_{to} {}

protected:
    std::streamsize xsputn(const char* text, std::streamsize n) override {
        thread_local bool dropped = false;
        thread_local bool in_line = false;
        const std::string_view what{text, static_cast<std::size_t>(n)};
        if (in_line || begins_line_of_rtaudio(what)) {
            in_line = !what.ends_with('\n');
            return n;
        }
        const bool line_end = dropped && what.find_first_not_of('\n') == std::string_view::npos;
        dropped = is_of_rtaudio(what);
        return dropped || line_end ? n : to_->sputn(text, n);
    }
    int_type overflow(int_type c) override {
        if (traits_type::eq_int_type(c, traits_type::eof())) return traits_type::not_eof(c);
        const char one = traits_type::to_char_type(c);
        return xsputn(&one, 1) == 1 ? c : traits_type::eof();
    }
    int sync() override { return to_->pubsync(); }

private:
    std::streambuf* to_;
};

std::shared_ptr<quiet_libraries> quiet_libraries::keep() {
    // std::cerr and the handlers are one for the whole program, so this is too.
    static std::mutex one_at_a_time;
    static std::weak_ptr<quiet_libraries> kept;
    const std::lock_guard lock{one_at_a_time};
    auto out = kept.lock();
    if (out == nullptr) {
        out = std::make_shared<quiet_libraries>();
        kept = out;
    }
    return out;
}

quiet_libraries::quiet_libraries()
    : filter_{std::make_unique<filter>(std::cerr.rdbuf())},
      before_{std::cerr.rdbuf(filter_.get())} {
#ifdef CVRIG_WITH_ALSA
    snd_lib_error_set_handler(&drop_alsa_message);
#endif
#ifdef CVRIG_WITH_JACK
    jack_set_error_function(&drop_jack_message);
    jack_set_info_function(&drop_jack_message);
#endif
}

quiet_libraries::~quiet_libraries() {
    std::cerr.rdbuf(before_);
}

}  // namespace cvrig
