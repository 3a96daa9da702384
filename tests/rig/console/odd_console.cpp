// A module's console as a program, well-behaved or not: odd_console BEHAVIOUR.
#include <array>
#include <chrono>
#include <cstdio>
#include <iostream>
#include <string>
#include <thread>

namespace {

void answer_lines() {
    for (std::string line; std::getline(std::cin, line);) {
        if (line == "*IDN?") std::cout << "Invented,Ferrule,0,1.4\n" << std::flush;
        if (line == "die") return;
    }
}

/// At full speed for ever, and never looks at what it is told.
[[noreturn]] void babble() {
    std::string block;
    for (int i = 0; i < 400; ++i)
        block += "debug: voice 1 pitch 440.0 level " + std::to_string(i) + "\n";
    for (;;) std::fwrite(block.data(), 1, block.size(), stdout);
}

/// The same, but a reply stands between.
[[noreturn]] void babble_and_answer() {
    std::thread{babble}.detach();
    for (std::string line; std::getline(std::cin, line);) {
        const std::string reply = "\nInvented,Ferrule,0,1.4\n";
        std::fwrite(reply.data(), 1, reply.size(), stdout);
    }
    std::_Exit(0);
}

}  // namespace

int main(int argc, char** argv) {
    const std::string how = argc > 1 ? argv[1] : "";
    if (how == "answers") answer_lines();
    if (how == "babbles") babble();
    if (how == "babbles and answers") babble_and_answer();
    if (how == "sleeps") std::this_thread::sleep_for(std::chrono::hours{1});
    if (how == "complains") {
        std::cerr << "no image to run\n";
        return 1;
    }
    return 0;
}
