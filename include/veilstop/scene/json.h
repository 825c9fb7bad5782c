/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JSON read strictly (RFC 8259): the whole text is checked before the parser sees it, and each
 * fault is recorded with its JSON pointer (RFC 6901), so that reading continues and all faults are
 * reported. A failed value reads as NaN, NULL or SIZE_MAX; later checks skip it. */
#ifndef VEILSTOP_SCENE_JSON_H
#define VEILSTOP_SCENE_JSON_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/error.h"
#include "veilstop/base/status.h"

#ifdef __cplusplus
extern "C" {
#endif

struct cJSON;

#define VS_JSON_BYTES_MAX  (4u << 20) /* [bytes] of one file: our choice */
#define VS_JSON_DEPTH_MAX  32         /* nesting of arrays and objects: our choice */
#define VS_JSON_VALUES_MAX 200000     /* values in one file: bounds the memory used */
#define VS_JSON_TEXT_MAX   400 /* [bytes] of a text read as title, rule or name: our choice */

/** A file's values; owns them, the strings included. */
typedef struct {
    struct cJSON *root;
} vs_json_document;

/** Reads a whole JSON text.
 *  bytes   UTF-8, need not end in NUL, borrowed for the call; a byte order mark is skipped
 *  faults  gets what is wrong: the first syntax fault with line and column; otherwise all repeated
 *          keys and numbers that are not finite, with their pointers
 *  Refused beyond RFC 8259: the limits above, numbers of over 60 characters, NUL in a string.
 *  Errors: VS_ERR_INPUT with at least one fault, VS_ERR_MEMORY. The document is then empty.
 *  Checked: tests/unit/test_json.c, tests/property/test_scene_bytes.c */
VS_WARN_UNUSED vs_status vs_json_document_init(vs_json_document *document, const char *bytes,
                                               size_t length, vs_faults *faults);
void vs_json_document_free(vs_json_document *document);

/** Copies a document.  Errors: VS_ERR_MEMORY; the copy is then empty. */
VS_WARN_UNUSED vs_status vs_json_document_copy(const vs_json_document *document,
                                               vs_json_document *copy);
/** Multiplies the number at a JSON pointer; false if there is none. */
bool vs_json_document_scale(vs_json_document *document, const char *pointer, double factor);

/** A place in a document and the value there. Borrows the document and the fault list. */
typedef struct {
    const struct cJSON *item; /* NULL: nothing there */
    vs_faults *faults;
    char pointer[VS_FAULT_WHERE_SIZE]; /* JSON pointer; "" is the whole file */
} vs_json_value;

vs_json_value vs_json_root(const vs_json_document *document, vs_faults *faults);

/** The member of an object; an absent value if it has none, or is not an object. */
vs_json_value vs_json_get(const vs_json_value *object, const char *key);
/** The member or element at an index, in the order of the file. */
vs_json_value vs_json_at(const vs_json_value *list, size_t index);
/** Number of members of an object or elements of an array; 0 for anything else. */
size_t vs_json_count(const vs_json_value *list);
/** The key of a member; NULL for an element. Lives as long as the document. */
const char *vs_json_key(const vs_json_value *member);
/** A member whose key starts with "note": free text. */
bool vs_json_is_note(const vs_json_value *member);
/** The value at a JSON pointer (RFC 6901); absent if there is none. */
vs_json_value vs_json_resolve(const vs_json_value *root, const char *pointer);

bool vs_json_exists(const vs_json_value *value);
bool vs_json_is_object(const vs_json_value *value);
bool vs_json_is_array(const vs_json_value *value);
bool vs_json_is_number(const vs_json_value *value);
bool vs_json_is_text(const vs_json_value *value);
bool vs_json_is_null(const vs_json_value *value);
/** Whether it is a text equal to this word. */
bool vs_json_is_word(const vs_json_value *value, const char *word);

/** Records a fault at this place. The text is one clause that begins with what would be right. */
void vs_json_fault(const vs_json_value *value, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;
/** The same, followed by " (got ...)" with the value found. */
void vs_json_fault_got(const vs_json_value *value, const char *format, ...)
#if defined(__GNUC__)
    __attribute__((format(printf, 2, 3)))
#endif
    ;

/** Checks for an object all of whose keys are in `key` or begin with "note". Faults: not an object;
 *  each other key, with the nearest known one. False if it is not an object. */
bool vs_json_check_object(const vs_json_value *value, const char *const *key, size_t key_count);
/** Checks for an array of `fewest` to `most` elements; `what` names them in the plural
 *  ("lights"). */
bool vs_json_check_array(const vs_json_value *value, size_t fewest, size_t most, const char *what);

/** The word of a list nearest to one not in it; NULL if none is close. */
const char *vs_json_nearest(const char *word, const char *const *list, size_t count);

/** Numbers from low to high; an open end is excluded. */
typedef struct {
    double low, high;
    bool open_low, open_high;
} vs_json_range;

/* Readers called need_ report an absent value as a fault, those called take_ return the fallback.
 * They read the member `key` of `object`, or with a NULL key the value itself. */

/** A number within a range; NaN after a fault. */
double vs_json_need_number(const vs_json_value *object, const char *key, vs_json_range range);
double vs_json_take_number(const vs_json_value *object, const char *key, vs_json_range range,
                           double fallback);
/** An array of `count` numbers within a range; false after a fault, with NaN for those that
 *  fail. */
bool vs_json_need_numbers(const vs_json_value *object, const char *key, vs_json_range range,
                          double *number, size_t count);
/** A text of 1 to VS_JSON_TEXT_MAX bytes without control characters; NULL after a fault. Lives as
 *  long as the document. */
const char *vs_json_need_text(const vs_json_value *object, const char *key);
const char *vs_json_take_text(const vs_json_value *object, const char *key, const char *fallback);
/** The index of a text in a list of words; SIZE_MAX after a fault. */
size_t vs_json_need_choice(const vs_json_value *object, const char *key, const char *const *word,
                           size_t word_count);
size_t vs_json_take_choice(const vs_json_value *object, const char *key, const char *const *word,
                           size_t word_count, size_t fallback);
/** true or false; after a fault also the fallback. */
bool vs_json_take_bool(const vs_json_value *object, const char *key, bool fallback);

/** Checks a number derived from this value (a length with its own unit, for example) against a
 *  range.
 *  unit     printed after the limits, for example " m"; "" for none
 *  unit_si  limits are divided by it for printing */
bool vs_json_check_range(const vs_json_value *value, double number, vs_json_range range,
                         const char *unit, double unit_si);

#ifdef __cplusplus
}
#endif
#endif
