/* The elementary functions of the C library, off by a few units in the last place: what another computer's library may
 * answer. Built and preloaded by tests/commands/arithmetic.py, so that Python's floats and `math`, numpy (with its own
 * vector code switched off), scipy and the compiled model all see it.
 *
 * By how many units depends on the function, its arguments and the seed alone: the same question gets the same answer,
 * as from a real library. Answers that are whole numbers stay (log10(1000) is 3 and pow(2, 10) is 1024 in every library),
 * and so do square and square root, which IEEE 754 leaves no freedom.
 */
#define _GNU_SOURCE
#include <dlfcn.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#define MOST 4 /* units in the last place, either way */

static uint64_t seed(void) {
    static uint64_t kept = 0;
    if (kept == 0) {
        const char *text = getenv("OILKIT_PERTURB");
        kept = (text ? strtoull(text, NULL, 10) : 0) * 2 + 1;
    }
    return kept;
}

static uint64_t bits(double x) {
    uint64_t found;
    memcpy(&found, &x, sizeof found);
    return found;
}

static uint64_t mixed(uint64_t x) { /* splitmix64's finalizer */
    x ^= x >> 30;
    x *= 0xbf58476d1ce4e5b9u;
    x ^= x >> 27;
    x *= 0x94d049bb133111ebu;
    return x ^ (x >> 31);
}

static double off(double result, uint64_t function, double x, double y) {
    if (!isfinite(result) || result == rint(result))
        return result;
    uint64_t drawn = mixed(mixed(mixed(seed() + function) ^ bits(x)) ^ bits(y));
    int units = (int)(drawn % (2 * MOST + 1)) - MOST;
    for (; units > 0; units--)
        result = nextafter(result, INFINITY);
    for (; units < 0; units++)
        result = nextafter(result, -INFINITY);
    return result;
}

#define ONE(name, number)                                                                                              \
    double name(double x) {                                                                                            \
        static double (*real)(double) = NULL;                                                                          \
        if (real == NULL)                                                                                              \
            real = (double (*)(double))dlsym(RTLD_NEXT, #name);                                                        \
        return off(real(x), number, x, 0.0);                                                                           \
    }

ONE(exp, 1)
ONE(exp2, 2)
ONE(expm1, 3)
ONE(log, 4)
ONE(log2, 5)
ONE(log10, 6)
ONE(log1p, 7)
ONE(sin, 8)
ONE(cos, 9)
ONE(tan, 10)
ONE(asin, 11)
ONE(acos, 12)
ONE(atan, 13)
ONE(sinh, 14)
ONE(cosh, 15)
ONE(tanh, 16)
ONE(cbrt, 17)

double pow(double x, double y) {
    static double (*real)(double, double) = NULL;
    if (real == NULL)
        real = (double (*)(double, double))dlsym(RTLD_NEXT, "pow");
    double result = real(x, y);
    return y == 2.0 || y == 0.5 || y == 1.0 || y == -1.0 ? result : off(result, 18, x, y);
}

double atan2(double y, double x) {
    static double (*real)(double, double) = NULL;
    if (real == NULL)
        real = (double (*)(double, double))dlsym(RTLD_NEXT, "atan2");
    return off(real(y, x), 19, y, x);
}
