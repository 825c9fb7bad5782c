/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Is this text JSON, strictly by RFC 8259? If not, the line and column of the first fault. cJSON
 * accepts more (0123, 1e999, trailing text, raw control characters, bytes that are not UTF-8), so
 * it only gets to see what passes here. */
#include "scene/json/json_scan.h"

#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/base/utf8.h"
#include "veilstop/scene/json.h"

#define NUMBER_CHARACTERS_MAX 60 /* cJSON copies a number into 64 bytes */

typedef struct {
    const unsigned char *begin, *at, *end;
    size_t depth, values;
    vs_faults *faults;
} scanner;

static size_t character_at(const unsigned char *at, const unsigned char *end) {
    return vs_utf8_character_in((const char *)at, (const char *)end);
}

/* What is at a place, as the reader of a message would call it. */
static void describe(const scanner *s, const unsigned char *at, char *text, size_t size) {
    size_t length = character_at(at, s->end);
    if (at >= s->end) {
        snprintf(text, size, "the end of the file");
    } else if (*at == '\n' || *at == '\r') {
        snprintf(text, size, "the end of the line");
    } else if (length == 0 || *at < 0x20 || *at == 0x7f) {
        snprintf(text, size, "byte 0x%02x", *at);
    } else {
        snprintf(text, size, "%.*s", (int)length, (const char *)at);
    }
}

static bool refuse(const scanner *s, const unsigned char *at, const char *right) {
    size_t line = 1, column = 1;
    for (const unsigned char *c = s->begin; c < at; c++) {
        if (*c == '\n') {
            line++;
            column = 1;
        } else if ((*c & 0xc0) != 0x80) {
            column++;
        }
    }
    char where[64], got[32];
    snprintf(where, sizeof where, "line %zu, column %zu", line, column);
    describe(s, at, got, sizeof got);
    vs_faults_add(s->faults, where, "%s (got %s%s)", right, got,
                  at < s->end && *at == '/' ? "; JSON has no comments" : "");
    return false;
}

static void skip_blanks(scanner *s) {
    while (s->at < s->end &&
           (*s->at == ' ' || *s->at == '\t' || *s->at == '\n' || *s->at == '\r')) {
        s->at++;
    }
}

static bool next_is(const scanner *s, char c) {
    return s->at < s->end && *s->at == (unsigned char)c;
}

static bool take(scanner *s, char c) {
    if (!next_is(s, c)) {
        return false;
    }
    s->at++;
    return true;
}

static size_t take_digits(scanner *s) {
    const unsigned char *first = s->at;
    while (s->at < s->end && *s->at >= '0' && *s->at <= '9') {
        s->at++;
    }
    return (size_t)(s->at - first);
}

static bool scan_fraction_and_exponent(scanner *s) {
    if (take(s, '.') && take_digits(s) == 0) {
        return refuse(s, s->at, "must be a digit after the decimal point");
    }
    if (take(s, 'e') || take(s, 'E')) {
        if (!take(s, '-')) {
            (void)take(s, '+');
        }
        if (take_digits(s) == 0) {
            return refuse(s, s->at, "must be a digit of the exponent");
        }
    }
    return true;
}

static bool scan_number(scanner *s) {
    const unsigned char *first = s->at;
    (void)take(s, '-');
    if (take(s, '0')) {
        if (s->at < s->end && *s->at >= '0' && *s->at <= '9') {
            return refuse(s, s->at, "must be a number without leading zeros");
        }
    } else if (take_digits(s) == 0) {
        return refuse(s, s->at, "must be a digit after the minus sign");
    }
    if (!scan_fraction_and_exponent(s)) {
        return false;
    }
    if (s->at - first > NUMBER_CHARACTERS_MAX) {
        return refuse(s, first, "must be a number of at most 60 characters");
    }
    return true;
}

/* The four digits after \u; -1 if there are none. */
static long take_code_unit(scanner *s) {
    long unit = 0;
    for (int i = 0; i < 4; i++, s->at++) {
        if (s->at >= s->end) {
            return -1;
        }
        unsigned char c = *s->at;
        int digit = c >= '0' && c <= '9'   ? c - '0'
                    : c >= 'a' && c <= 'f' ? c - 'a' + 10
                    : c >= 'A' && c <= 'F' ? c - 'A' + 10
                                           : -1;
        if (digit < 0) {
            return -1;
        }
        unit = unit * 16 + digit;
    }
    return unit;
}

/* UTF-16 surrogates must come in pairs, high then low (RFC 8259, section 7). */
static bool scan_code_point(scanner *s) {
    const unsigned char *first = s->at;
    long unit = take_code_unit(s);
    if (unit < 0) {
        return refuse(s, s->at, "must be four hexadecimal digits after \\u");
    }
    if (unit == 0) {
        return refuse(s, first, "must be a character other than \\u0000");
    }
    bool paired = true;
    if (unit >= 0xd800 && unit <= 0xdbff) {
        long low = take(s, '\\') && take(s, 'u') ? take_code_unit(s) : -1;
        paired = low >= 0xdc00 && low <= 0xdfff;
    } else if (unit >= 0xdc00 && unit <= 0xdfff) {
        paired = false;
    }
    return paired || refuse(s, first, "must be a whole pair of surrogates after \\u");
}

static bool scan_escape(scanner *s) {
    if (take(s, 'u')) {
        return scan_code_point(s);
    }
    if (s->at < s->end && *s->at != '\0' && strchr("\"\\/bfnrt", *s->at)) {
        s->at++;
        return true;
    }
    return refuse(s, s->at, "must be one of \" \\ / b f n r t u after a backslash");
}

static bool scan_string(scanner *s) {
    s->at++; /* the opening quote */
    while (!take(s, '"')) {
        if (s->at >= s->end || *s->at < 0x20) {
            return refuse(s, s->at, "must be a string that ends with \" on its line");
        }
        if (take(s, '\\')) {
            if (!scan_escape(s)) {
                return false;
            }
        } else {
            s->at += character_at(s->at, s->end);
        }
    }
    return true;
}

static bool scan_word(scanner *s, const char *word) {
    size_t length = strlen(word);
    if ((size_t)(s->end - s->at) < length || memcmp(s->at, word, length) != 0) {
        return false;
    }
    s->at += length;
    return true;
}

static bool scan_value(scanner *s);

static bool scan_member(scanner *s) {
    skip_blanks(s);
    if (!next_is(s, '"')) {
        return refuse(s, s->at, "must be a key in double quotes");
    }
    if (!scan_string(s)) {
        return false;
    }
    skip_blanks(s);
    if (!take(s, ':')) {
        return refuse(s, s->at, "must be a colon after the key");
    }
    return scan_value(s);
}

/* An array or an object, from its opening bracket. */
static bool scan_list(scanner *s, char close, bool (*scan_item)(scanner *), const char *right) {
    if (++s->depth > VS_JSON_DEPTH_MAX) {
        return refuse(s, s->at, "must be nested at most 32 deep");
    }
    s->at++;
    skip_blanks(s);
    bool more = !take(s, close);
    while (more) {
        if (!scan_item(s)) {
            return false;
        }
        skip_blanks(s);
        more = take(s, ',');
        if (!more && !take(s, close)) {
            return refuse(s, s->at, right);
        }
    }
    s->depth--;
    return true;
}

static bool scan_value(scanner *s) {
    skip_blanks(s);
    if (++s->values > VS_JSON_VALUES_MAX) {
        return refuse(s, s->at, "must be a file of at most 200000 values");
    }
    if (next_is(s, '{')) {
        return scan_list(s, '}', scan_member, "must be a comma or } after a member");
    }
    if (next_is(s, '[')) {
        return scan_list(s, ']', scan_value, "must be a comma or ] after an element");
    }
    if (next_is(s, '"')) {
        return scan_string(s);
    }
    if (next_is(s, '-') || (s->at < s->end && *s->at >= '0' && *s->at <= '9')) {
        return scan_number(s);
    }
    if (scan_word(s, "true") || scan_word(s, "false") || scan_word(s, "null")) {
        return true;
    }
    return refuse(s, s->at, "must be a value: { [ \" a number, true, false or null");
}

static bool check_utf8(const scanner *s) {
    for (const unsigned char *at = s->begin; at < s->end;) {
        size_t length = character_at(at, s->end);
        if (length == 0) {
            return refuse(s, at, "must be UTF-8 text");
        }
        at += length;
    }
    return true;
}

bool vs_json_scan(const char *bytes, size_t length, vs_faults *faults) {
    const unsigned char *begin = (const unsigned char *)bytes;
    scanner s = {.begin = begin, .at = begin, .end = begin + length, .faults = faults};
    if (length > VS_JSON_BYTES_MAX) {
        vs_faults_add(faults, "", "must be a file of at most 4 MiB (got %zu bytes)", length);
        return false;
    }
    if (!check_utf8(&s)) {
        return false;
    }
    (void)scan_word(&s, "\xef\xbb\xbf"); /* a byte order mark: RFC 8259, section 8.1 */
    s.begin = s.at;
    if (!scan_value(&s)) {
        return false;
    }
    skip_blanks(&s);
    return s.at == s.end || refuse(&s, s.at, "must be the end of the file after its one value");
}

bool vs_json_pointer_token(const char **pointer, char *token, size_t size) {
    const char *c = *pointer + 1; /* past the slash */
    size_t used = 0;
    for (; *c && *c != '/'; c++) {
        char plain = *c;
        if (plain == '~') {
            c++;
            if (*c != '0' && *c != '1') {
                return false;
            }
            plain = *c == '0' ? '~' : '/';
        }
        if (used + 1 >= size) {
            return false;
        }
        token[used++] = plain;
    }
    token[used] = '\0';
    *pointer = c;
    return true;
}
