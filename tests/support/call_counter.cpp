#include "tests/support/call_counter.hpp"

#include <dlfcn.h>
#include <pthread.h>

#include <cstdlib>
#include <new>

// The program's own definitions stand before those of the libraries, so every call in it and in
// its libraries comes by here. With sanitizers, malloc and operator new are theirs and report to
// hooks.
#if defined(__SANITIZE_ADDRESS__) || defined(__SANITIZE_THREAD__)
#define HAS_SANITIZER 1
#elif defined(__has_feature)
#if __has_feature(address_sanitizer) || __has_feature(thread_sanitizer)
#define HAS_SANITIZER 1
#endif
#endif

namespace {

thread_local bool counting = false;
thread_local std::size_t memory = 0;
thread_local std::size_t locked = 0;

void count_memory() {
    if (counting) ++memory;
}

}  // namespace

#ifdef HAS_SANITIZER
extern "C" int __sanitizer_install_malloc_and_free_hooks(void (*)(const volatile void*,
                                                                  std::size_t),
                                                         void (*)(const volatile void*));
namespace {
const int hooked = __sanitizer_install_malloc_and_free_hooks(
    [](const volatile void*, std::size_t) { count_memory(); },
    [](const volatile void*) { count_memory(); });
}  // namespace
#else
extern "C" {
void* __libc_malloc(std::size_t);
void* __libc_calloc(std::size_t, std::size_t);
void* __libc_realloc(void*, std::size_t);
void* __libc_memalign(std::size_t, std::size_t);
void __libc_free(void*);

void* malloc(std::size_t n) {
    count_memory();
    return __libc_malloc(n);
}
void* calloc(std::size_t n, std::size_t of) {
    count_memory();
    return __libc_calloc(n, of);
}
void* realloc(void* p, std::size_t n) {
    count_memory();
    return __libc_realloc(p, n);
}
void* aligned_alloc(std::size_t align, std::size_t n) {
    count_memory();
    return __libc_memalign(align, n);
}
void free(void* p) {
    count_memory();
    __libc_free(p);
}
}
#endif

extern "C" int pthread_mutex_lock(pthread_mutex_t* m) {
    using lock_function = int (*)(pthread_mutex_t*);
    static const auto real =
        reinterpret_cast<lock_function>(dlsym(RTLD_NEXT, "pthread_mutex_lock"));
    if (counting) ++locked;
    return real(m);
}

namespace cvrig::test {

call_counter::call_counter() {
    // The first look for the real function takes memory, under a sanitizer at least.
    pthread_mutex_t any = PTHREAD_MUTEX_INITIALIZER;
    pthread_mutex_lock(&any);
    pthread_mutex_unlock(&any);
    memory = 0;
    locked = 0;
    counting = true;
}

call_counter::~call_counter() {
    counting = false;
}

std::size_t call_counter::memory_calls() const {
    return memory;
}

std::size_t call_counter::locks() const {
    return locked;
}

}  // namespace cvrig::test
