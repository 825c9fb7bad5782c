/* SPDX-License-Identifier: GPL-3.0-or-later */
/* An allocator that fails at a chosen allocation and counts what is not freed, in place of the C
 * library's, for the one test that includes it. The address sanitizer and valgrind have allocators
 * of their own: with them only the parser's allocations fail. */
#ifndef VEILSTOP_TESTS_FAULT_FAILING_H
#define VEILSTOP_TESTS_FAULT_FAILING_H

#include <cjson/cJSON.h>
#include <malloc.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

static long left = -1; /* allocations until one fails; below 0: none does */
/* Blocks allocated and not freed. Volatile, because the compiler assumes that malloc touches no
 * globals.
 */
static volatile long alive;

/* Whether GSL's own allocations are let through: gsl_multifit_nlinear_alloc loses what it has when one
 * fails, and gsl_multifit_nlinear_covar crashes (GSL 2.7.1). */
static bool spares_gsl;

/* As dlfcn.h has it, which tells POSIX programs nothing of it. */
typedef struct {
    const char *file;
    void *base;
    const char *symbol;
    void *address;
} address_info;
extern int dladdr(const void *address, address_info *info);

static bool is_gsl(const void *caller) {
    address_info info;
    return dladdr(caller, &info) && info.file && strstr(info.file, "libgsl");
}

static bool fails_for(const void *caller) {
    if (left == 0 && spares_gsl && is_gsl(caller)) {
        return false;
    }
    return left >= 0 && left-- == 0;
}
#define fails() fails_for(__builtin_return_address(0))

#ifndef __SANITIZE_ADDRESS__
/* The C library lets a program replace its allocator. */
extern void *__libc_malloc(size_t size);
extern void *__libc_calloc(size_t count, size_t size);
extern void *__libc_realloc(void *block, size_t size);
extern void __libc_free(void *block);

#define SEEN __attribute__((visibility("default"))) /* by the libraries too */

SEEN void *malloc(size_t size) {
    void *block = fails() ? NULL : __libc_malloc(size);
    alive += block != NULL;
    return block;
}

SEEN void *calloc(size_t count, size_t size) {
    void *block = fails() ? NULL : __libc_calloc(count, size);
    alive += block != NULL;
    return block;
}

/* If memory runs out, a block that shrinks is kept as it is, silently. */
SEEN void *realloc(void *block, size_t size) {
    bool grows = !block || size > malloc_usable_size(block);
    void *moved = grows && fails() ? NULL : __libc_realloc(block, size);
    alive += moved != NULL && block == NULL;
    return moved;
}

SEEN void free(void *block) {
    alive -= block != NULL;
    __libc_free(block);
}

typedef int order(const void *, const void *);
typedef int order_for(const void *, const void *, void *);
extern void qsort_r(void *items, size_t count, size_t size, order_for *by, void *context);

static int by_order(const void *a, const void *b, void *context) {
    order *const *by = context;
    return (*by)(a, b);
}

/* qsort uses memory if there is any and sorts without if not: nothing to report. */
SEEN void qsort(void *items, size_t count, size_t size, order *by) {
    long due = left;
    left = -1;
    qsort_r(items, count, size, by_order, &by);
    left = due;
}
#endif

static void *failing_malloc(size_t size) {
    return fails() ? NULL : malloc(size);
}

/* Whether this process's allocations come through here, both ways. */
static bool is_counting(void) {
    long before = alive;
    void *volatile block = malloc(1);
    bool taken = alive == before + 1;
    free(block);
    return taken && alive == before;
}

/* The parser's allocations too, for where those are the only ones that can be made to fail. */
static void fail_in_the_parser(void) {
    cJSON_Hooks hooks = {failing_malloc, free};
    cJSON_InitHooks(&hooks);
}

#endif
