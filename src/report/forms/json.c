/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The JSON writer. cJSON is not used here: it silently prints NaN as null. */
#include "veilstop/report/json.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/utf8.h"

void vs_json_begin(vs_json *json, vs_text *out) {
    memset(json, 0, sizeof *json);
    json->out = out;
    json->first = true;
}

static void add(vs_json *json, const char *text) {
    vs_text_add(json->out, text, strlen(text));
}

static void add_quoted(vs_json *json, const char *text) {
    add(json, "\"");
    for (const char *c = text; *c;) {
        size_t length = vs_utf8_character(c);
        unsigned char first = (unsigned char)*c;
        if (first == '"' || first == '\\') {
            vs_text_addf(json->out, "\\%c", first);
        } else if (first < 0x20 || first == 0x7f) {
            vs_text_addf(json->out, "\\u%04x", (unsigned)first);
        } else if (length == 0) {
            add(json, "\\ufffd");
        } else {
            vs_text_add(json->out, c, length);
        }
        c += length ? length : 1;
    }
    add(json, "\"");
}

static void start_value(vs_json *json, const char *key) {
    if (!json->first) {
        add(json, ",");
    }
    json->first = false;
    if (key) {
        add_quoted(json, key);
        add(json, ":");
    }
}

void vs_json_open_object(vs_json *json, const char *key) {
    start_value(json, key);
    add(json, "{");
    json->first = true;
}

void vs_json_close_object(vs_json *json) {
    add(json, "}");
    json->first = false;
}

void vs_json_open_array(vs_json *json, const char *key) {
    start_value(json, key);
    add(json, "[");
    json->first = true;
}

void vs_json_close_array(vs_json *json) {
    add(json, "]");
    json->first = false;
}

void vs_json_number(vs_json *json, const char *key, double value) {
    if (!isfinite(value) && !json->broken[0]) {
        snprintf(json->broken, sizeof json->broken, "%s", key ? key : "(array)");
    }
    start_value(json, key);
    vs_text_addf(json->out, isfinite(value) ? "%.9g" : "null", value);
}

void vs_json_integer(vs_json *json, const char *key, long value) {
    start_value(json, key);
    vs_text_addf(json->out, "%ld", value);
}

void vs_json_bool(vs_json *json, const char *key, bool value) {
    start_value(json, key);
    add(json, value ? "true" : "false");
}

void vs_json_null(vs_json *json, const char *key) {
    start_value(json, key);
    add(json, "null");
}

void vs_json_number_or_null(vs_json *json, const char *key, double value) {
    if (isnan(value)) {
        vs_json_null(json, key);
    } else {
        vs_json_number(json, key, value);
    }
}

void vs_json_finite_or_null(vs_json *json, const char *key, double value) {
    vs_json_number_or_null(json, key, isfinite(value) ? value : (double)NAN);
}

void vs_json_string(vs_json *json, const char *key, const char *text) {
    start_value(json, key);
    if (text) {
        add_quoted(json, text);
    } else {
        add(json, "null");
    }
}

void vs_json_bands(vs_json *json, const char *key, vs_bands value) {
    vs_json_open_array(json, key);
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        vs_json_number(json, NULL, value.v[band]);
    }
    vs_json_close_array(json);
}

void vs_json_vec3(vs_json *json, const char *key, vs_vec3 value) {
    vs_json_open_array(json, key);
    vs_json_number(json, NULL, value.x);
    vs_json_number(json, NULL, value.y);
    vs_json_number(json, NULL, value.z);
    vs_json_close_array(json);
}

void vs_json_vec3_or_null(vs_json *json, const char *key, vs_vec3 value) {
    if (isnan(value.x)) {
        vs_json_null(json, key);
    } else {
        vs_json_vec3(json, key, value);
    }
}
