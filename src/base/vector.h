/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How to write loops over eight numbers at a time so that the compiler turns them into vector code:
 * fixed order, no contraction, the same figures at every vector width. */
#ifndef VEILSTOP_BASE_VECTOR_H
#define VEILSTOP_BASE_VECTOR_H

#include <stddef.h>

#define LANES 8 /* one vector of 64 bytes, two of 32, four of 16 */

/* On x86-64 with GCC a marked function is compiled three times and the loader picks the build for
 * the machine. Each build earns its place: the demo's cellar, user time, best of five with AVX-512:
 *     choose   4.3 s, without AVX-512 5.2 s, plain 5.8 s
 *     predict  0.44 s,              0.52 s,       0.56 s
 * Not under the sanitizers, whose runtime is not running yet when the loader picks. VS_LANES_LEVEL asks
 * for one build alone, so that `make same-answers` can hold them against one another. */
#if defined(VS_LANES_LEVEL)
#define LANES_CLONES __attribute__((target(VS_LANES_LEVEL)))
#elif defined(__GNUC__) && !defined(__clang__) && defined(__x86_64__) && defined(__linux__) &&     \
    !defined(__SANITIZE_ADDRESS__) && !defined(__SANITIZE_THREAD__)
#define LANES_CLONES __attribute__((target_clones("arch=x86-64-v4", "avx2", "default")))
#else
#define LANES_CLONES
#endif
#if defined(__GNUC__)
#define LANES_INLINE static inline __attribute__((always_inline))
#else
#define LANES_INLINE static inline
#endif

/* A count made up to whole lanes. */
LANES_INLINE size_t whole_lanes(size_t count) {
    return (count + LANES - 1) / LANES * LANES;
}

/* A loop over the lanes. The build defines VS_LANES_SIMD where the compiler honours the OpenMP
 * hint; without the hint the loop means the same. */
#ifdef VS_LANES_SIMD
#define EACH_LANE(l)    _Pragma("omp simd") for (int l = 0; l < LANES; l++)
#define EACH_OF_FOUR(n) _Pragma("omp simd") for (int n = 0; n < 4; n++)
#else
#define EACH_LANE(l)    for (int l = 0; l < LANES; l++)
#define EACH_OF_FOUR(n) for (int n = 0; n < 4; n++)
#endif

#endif
