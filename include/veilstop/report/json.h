/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes JSON (RFC 8259) into a vs_text: keys in the order given, numbers with nine significant
 * digits. A number that is not finite is a bug in the caller, and its key is remembered. */
#ifndef VEILSTOP_REPORT_JSON_H
#define VEILSTOP_REPORT_JSON_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/base/bands.h"
#include "veilstop/base/vec3.h"
#include "veilstop/report/text.h"

#ifdef __cplusplus
extern "C" {
#endif

typedef struct {
    vs_text *out;
    bool first;      /* nothing written yet in the open object or array */
    char broken[64]; /* the key of the first number that was not finite, else "" */
} vs_json;

void vs_json_begin(vs_json *json, vs_text *out);

/* key is NULL inside an array or at the top. */
void vs_json_open_object(vs_json *json, const char *key);
void vs_json_close_object(vs_json *json);
void vs_json_open_array(vs_json *json, const char *key);
void vs_json_close_array(vs_json *json);
void vs_json_number(vs_json *json, const char *key, double value);
void vs_json_integer(vs_json *json, const char *key, long value);
void vs_json_bool(vs_json *json, const char *key, bool value);
void vs_json_null(vs_json *json, const char *key);
/** NaN means "there is none" and is written as null; infinity is still a bug. */
void vs_json_number_or_null(vs_json *json, const char *key, double value);
/** Infinity too is written as null: never. */
void vs_json_finite_or_null(vs_json *json, const char *key, double value);
/** text  UTF-8; invalid bytes are written as U+FFFD. NULL is written as null. */
void vs_json_string(vs_json *json, const char *key, const char *text);
void vs_json_bands(vs_json *json, const char *key, vs_bands value);
void vs_json_vec3(vs_json *json, const char *key, vs_vec3 value);
/** NaN in x means "there is none" and is written as null. */
void vs_json_vec3_or_null(vs_json *json, const char *key, vs_vec3 value);

#ifdef __cplusplus
}
#endif
#endif
