/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Repeatable random numbers: streams selected by a seed and a number, so that work split among
 * threads gives the same figures however it is split. Source: Blackman & Vigna 2021, ACM Trans.
 * Math. Softw. 47(4), 36 (xoshiro256++); Steele, Lea, Flood 2014, OOPSLA, 453 (splitmix64, seeds
 * it). */
#ifndef VEILSTOP_BASE_RANDOM_H
#define VEILSTOP_BASE_RANDOM_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    uint64_t state[4];
} vs_random;

static inline uint64_t vs_random_splitmix(uint64_t *state) {
    uint64_t z = (*state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

/** The stream of a seed and a stream number. Different pairs give unrelated streams. */
static inline vs_random vs_random_make(uint64_t seed, uint64_t stream) {
    vs_random random;
    uint64_t state = seed;
    state = vs_random_splitmix(&state) ^ (stream * 0xd1342543de82ef95u);
    for (int i = 0; i < 4; i++) {
        random.state[i] = vs_random_splitmix(&state);
    }
    return random;
}

static inline uint64_t vs_random_rotate(uint64_t x, int by) {
    return (x << by) | (x >> (64 - by));
}

static inline uint64_t vs_random_bits(vs_random *random) {
    uint64_t *s = random->state;
    uint64_t result = vs_random_rotate(s[0] + s[3], 23) + s[0];
    uint64_t t = s[1] << 17;
    s[2] ^= s[0];
    s[3] ^= s[1];
    s[1] ^= s[2];
    s[0] ^= s[3];
    s[2] ^= t;
    s[3] = vs_random_rotate(s[3], 45);
    return result;
}

/** Uniform in [0, 1): the upper 53 bits. */
static inline double vs_random_uniform(vs_random *random) {
    return (double)(vs_random_bits(random) >> 11) * 0x1p-53;
}

#ifdef __cplusplus
}
#endif
#endif
