/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the fuzz targets share: changes to JSON that leave most of it valid, and what holds for every
 * answer. LibFuzzer's own interface is at the end. */
#ifndef VEILSTOP_TESTS_FUZZ_FUZZ_H
#define VEILSTOP_TESTS_FUZZ_FUZZ_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "veilstop/ask/ask.h"

/* Ends the program, so that the fuzzer keeps the input, unless it holds. */
#define FUZZ_TRUE(condition)                                                                       \
    do {                                                                                           \
        if (!(condition)) {                                                                        \
            fuzz_broken(#condition, __FILE__, __LINE__);                                           \
        }                                                                                          \
    } while (0)
_Noreturn void fuzz_broken(const char *condition, const char *file, int line);

/* Changes a JSON text in place, by its structure: numbers, words, elements and members, one to three
 * at a time; now and then, and where it is no JSON, by bytes. Returns the new length. */
size_t fuzz_json_mutate(uint8_t *text, size_t length, size_t most, unsigned seed);
/* A text of two: the first, with a value of the second in place of one of the same key. */
size_t fuzz_json_cross(const uint8_t *one, size_t one_length, const uint8_t *other,
                       size_t other_length, uint8_t *out, size_t most, unsigned seed);

/* A number that hangs on the bytes alone, to choose what is asked of them. */
uint32_t fuzz_hash(const uint8_t *bytes, size_t length);

/* Asks and holds the answer against what is true of all: a status of the program; on 0 and 1 text,
 * JSON that parses where it was asked for; else a message; and never one that calls it a bug. */
vs_exit fuzz_ask(vs_ask *ask, const char *const *word);

/* Whether an answer calls itself a bug. */
bool fuzz_is_bug(int code, const char *messages);
/* Fails on a text that is no JSON object. */
void fuzz_check_json(const char *text);

/* What a question writes: the last file is kept. */
vs_status fuzz_keep_written(void *context, const char *path, const void *bytes, size_t length);
bool fuzz_has_written(void);
/* Holds that a scene that was written, if one was, can be read again; name: stands for it in messages
 * and says from where its own files are read. Forgets it. */
void fuzz_read_back(const char *name);

/* Reads files by their names below the project's folder (VS_TESTS/..). */
vs_status fuzz_read_project(void *context, const char *path, size_t most, char **bytes,
                            size_t *length);
/* A file that the fuzzed bytes are, by the end of its path. */
typedef struct {
    const char *name;
    const void *bytes;
    size_t length;
} fuzz_file;
/* Reads that file (context) and finds no other. */
vs_status fuzz_read_one(void *context, const char *path, size_t most, char **bytes, size_t *length);
/* A file of the project as text, for free(); ends the program where there is none. */
char *fuzz_project_text(const char *path, size_t *length);
/* Opens the small scene, which reads the project's files and keeps what is written. */
void fuzz_open_small(vs_ask *ask);

/* ---- libFuzzer's (LLVM, docs/LibFuzzer.html and FuzzerInterface.h) ---- */

int LLVMFuzzerInitialize(int *argc, char ***argv);
int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size);
size_t LLVMFuzzerMutate(uint8_t *data, size_t size, size_t most);
size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned seed);
size_t LLVMFuzzerCustomCrossOver(const uint8_t *one, size_t one_size, const uint8_t *other,
                                 size_t other_size, uint8_t *out, size_t most, unsigned seed);

/* The door for targets whose input is a JSON text. */
#define FUZZ_IS_JSON                                                                               \
    size_t LLVMFuzzerCustomMutator(uint8_t *data, size_t size, size_t most, unsigned seed) {       \
        return fuzz_json_mutate(data, size, most, seed);                                           \
    }                                                                                              \
    size_t LLVMFuzzerCustomCrossOver(const uint8_t *one, size_t one_size, const uint8_t *other,    \
                                     size_t other_size, uint8_t *out, size_t most,                 \
                                     unsigned seed) {                                              \
        return fuzz_json_cross(one, one_size, other, other_size, out, most, seed);                 \
    }

#endif
