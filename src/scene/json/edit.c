/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A scanner over JSON known to be valid: it finds the bytes of a value and leaves all others alone.
 */
#include "veilstop/scene/edit.h"

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene/json/json_scan.h"

#define NUMBER_SIZE 32 /* [bytes] of a number with six digits, sign and exponent */

/* A range of the text: [from, to). */
typedef struct {
    size_t from, to;
} slice;

typedef struct {
    const char *bytes;
    size_t length;
} text;

static size_t skip_blanks(text t, size_t at) {
    while (at < t.length && strchr(" \t\r\n", t.bytes[at]) && t.bytes[at]) {
        at++;
    }
    return at;
}

static size_t skip_string(text t, size_t at) {
    for (at++; at < t.length && t.bytes[at] != '"'; at++) {
        at += t.bytes[at] == '\\';
    }
    return at + 1;
}

static size_t skip_value(text t, size_t at) {
    size_t depth = 0;
    while (at < t.length) {
        char c = t.bytes[at];
        if (c == '"') {
            at = skip_string(t, at);
        } else if (c == '{' || c == '[') {
            depth++;
            at++;
        } else if (c == '}' || c == ']') {
            depth--;
            at++;
        } else if (depth > 0) {
            at++;
            continue;
        } else {
            return at + strcspn(t.bytes + at, ",]} \t\r\n");
        }
        if (depth == 0) {
            return at;
        }
    }
    return at;
}

/* Four hexadecimal digits. */
static unsigned long code_unit(const char *digits) {
    char four[5] = "";
    memcpy(four, digits, 4);
    return strtoul(four, NULL, 16);
}

/* Writes a character in UTF-8 (RFC 3629); returns its length in bytes. */
static size_t to_utf8(unsigned long c, char out[4]) {
    static const unsigned char lead[] = {0, 0, 0xc0, 0xe0, 0xf0};
    size_t length = c < 0x80 ? 1 : c < 0x800 ? 2 : c < 0x10000 ? 3 : 4;
    for (size_t i = length; i-- > 1; c >>= 6) {
        out[i] = (char)(0x80 | (c & 0x3f));
    }
    out[0] = (char)(lead[length] | c);
    return length;
}

/* The character at *at of a valid JSON string (RFC 8259, 7); moves *at past it, returns its bytes.
 */
static size_t key_character(const char *key, size_t length, size_t *at, char out[4]) {
    static const char letter[] = "bfnrt", meant[] = "\b\f\n\r\t";
    if (key[*at] != '\\') {
        out[0] = key[(*at)++];
        return 1;
    }
    char c = key[*at + 1];
    const char *found = strchr(letter, c);
    *at += 2;
    if (c != 'u') {
        out[0] = found ? meant[found - letter] : c;
        return 1;
    }
    if (length < *at + 4) {
        return 0;
    }
    unsigned long unit = code_unit(key + *at);
    *at += 4;
    if (unit >= 0xd800 && unit < 0xdc00 && length >= *at + 6) { /* of a pair: \uXXXX follows */
        unit = 0x10000 + ((unit - 0xd800) << 10) + (code_unit(key + *at + 2) - 0xdc00);
        *at += 6;
    }
    return to_utf8(unit, out);
}

/* Whether a name equals this key as written in the file, perhaps with escapes. */
static bool is_key(const char *name, const char *key, size_t key_length) {
    size_t i = 0, name_length = strlen(name);
    for (size_t k = 0; k < key_length;) {
        char c[4];
        size_t length = key_character(key, key_length, &k, c);
        for (size_t n = 0; n < length; n++, i++) {
            if (i >= name_length || name[i] != c[n]) {
                return false;
            }
        }
    }
    return i == name_length;
}

/* Result of a search in an object or array: the value, and where another could be added. */
typedef struct {
    bool found, empty, object;
    slice value;
    size_t end; /* behind the last member */
} finding;

static finding search(text t, size_t at, const char *token) {
    finding f = {.empty = true, .object = t.bytes[at] == '{'};
    size_t index = 0;
    f.end = at + 1;
    at = skip_blanks(t, at + 1);
    while (at < t.length && t.bytes[at] != '}' && t.bytes[at] != ']') {
        bool is_it;
        if (f.object) {
            size_t key = at + 1, key_end = skip_string(t, at) - 1;
            is_it = is_key(token, t.bytes + key, key_end - key);
            at = skip_blanks(t, skip_blanks(t, key_end + 1) + 1); /* past the colon */
        } else {
            is_it = strtoul(token, NULL, 10) == index++;
        }
        slice value = {at, skip_value(t, at)};
        f.empty = false;
        f.end = value.to;
        if (is_it) {
            f.found = true;
            f.value = value;
            return f;
        }
        at = skip_blanks(t, value.to);
        at = at < t.length && t.bytes[at] == ',' ? skip_blanks(t, at + 1) : at;
    }
    return f;
}

/* Follows a pointer to its value, or to where its last key, copied to `key`, can be added. */
static bool follow(text t, const char *pointer, finding *f, char key[VS_FAULT_WHERE_SIZE]) {
    slice value = {skip_blanks(t, t.length >= 3 && memcmp(t.bytes, "\xef\xbb\xbf", 3) == 0 ? 3 : 0),
                   t.length};
    while (*pointer == '/') {
        if (value.from >= t.length || !strchr("{[", t.bytes[value.from]) ||
            !vs_json_pointer_token(&pointer, key, VS_FAULT_WHERE_SIZE)) {
            return false;
        }
        *f = search(t, value.from, key);
        if (!f->found) {
            return *pointer == '\0' && f->object;
        }
        value = f->value;
    }
    return *pointer == '\0' && f->found;
}

/* The text with [gap.from, gap.to) replaced by `words`. */
static char *splice(text t, slice gap, const char *words, size_t *length) {
    size_t added = strlen(words);
    *length = t.length - (gap.to - gap.from) + added;
    char *out = malloc(*length + 1);
    if (out) {
        memcpy(out, t.bytes, gap.from);
        memcpy(out + gap.from, words, added);
        memcpy(out + gap.from + added, t.bytes + gap.to, t.length - gap.to);
        out[*length] = '\0';
    }
    return out;
}

/* Writes a key's name; returns its end. No key of a scene has control characters. */
static char *put_key(char *out, const char *name) {
    for (; *name; name++) {
        if (*name == '"' || *name == '\\') {
            *out++ = '\\';
        }
        *out++ = *name;
    }
    return out;
}

static vs_status set_one(text t, const vs_scene_edit *edit, char **out, size_t *length) {
    finding f = {0};
    char key[VS_FAULT_WHERE_SIZE] = "";
    if (!isfinite(edit->value)) {
        return VS_ERR_DOMAIN;
    }
    if (!follow(t, edit->pointer, &f, key)) {
        return VS_ERR_INPUT;
    }
    char number[NUMBER_SIZE];
    snprintf(number, sizeof number, "%.6g", edit->value);
    if (f.found) {
        *out = splice(t, f.value, number, length);
    } else {
        char *member = malloc(2 * strlen(key) + NUMBER_SIZE + 8);
        slice here = {f.end, f.end};
        if (member) {
            char *end = member + sprintf(member, "%s\"", f.empty ? "" : ", ");
            sprintf(put_key(end, key), "\": %s", number);
            *out = splice(t, here, member, length);
        }
        free(member);
    }
    return *out ? VS_OK : VS_ERR_MEMORY;
}

vs_status vs_scene_edit_numbers(const char *bytes, size_t length, const vs_scene_edit *edit,
                                size_t count, char **out, size_t *out_length) {
    text t = {bytes, length};
    slice nothing = {0, 0};
    *out = splice(t, nothing, "", out_length);
    vs_status status = *out ? VS_OK : VS_ERR_MEMORY;
    for (size_t i = 0; i < count && status == VS_OK; i++) {
        text before = {*out, *out_length};
        char *after = NULL;
        status = set_one(before, &edit[i], &after, out_length);
        free(*out);
        *out = after;
    }
    if (status != VS_OK) {
        *out_length = 0;
    }
    return status;
}
