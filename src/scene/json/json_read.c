/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Typed readers over a JSON document: each reports what would be right if it finds something else,
 * and returns a value that later checks recognise as missing (NaN, NULL, SIZE_MAX). */
#include <cjson/cJSON.h>
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "veilstop/scene/json.h"

#define NOTE     "note" /* keys that begin like this are free text */
#define WORD_MAX 40     /* [bytes] longer words are never taken for misspellings */
/* A figure nearer to 0 is none of anything in a scene, and its square or what it is divided by would be
 * no number. */
#define NUMBER_LEAST 1e-100

static size_t smaller(size_t a, size_t b) {
    return a < b ? a : b;
}

/* Number of edits that turn a into b: insert, delete, replace, swap neighbours (optimal string
 * alignment). */
static size_t edit_distance(const char *a, const char *b) {
    size_t n = strlen(a), m = strlen(b);
    size_t row[3][WORD_MAX + 1] = {{0}};
    for (size_t j = 0; j <= m; j++) {
        row[0][j] = j;
    }
    for (size_t i = 1; i <= n; i++) {
        size_t *now = row[i % 3];
        const size_t *above = row[(i + 2) % 3], *twice = row[(i + 1) % 3];
        now[0] = i;
        for (size_t j = 1; j <= m; j++) {
            size_t replaced = above[j - 1] + (a[i - 1] != b[j - 1]);
            now[j] = smaller(replaced, smaller(above[j], now[j - 1]) + 1);
            if (i > 1 && j > 1 && a[i - 1] == b[j - 2] && a[i - 2] == b[j - 1]) {
                now[j] = smaller(now[j], twice[j - 2] + 1);
            }
        }
    }
    return row[n % 3][m];
}

const char *vs_json_nearest(const char *word, const char *const *list, size_t count) {
    const char *nearest = NULL;
    size_t length = strlen(word);
    if (length > WORD_MAX) {
        return NULL;
    }
    size_t least = (length + 1) / 3; /* more edits than a third of its length: another word */
    for (size_t i = 0; i < count; i++) {
        if (!list[i] || strlen(list[i]) > WORD_MAX) {
            continue;
        }
        size_t distance = edit_distance(word, list[i]);
        if (distance < least || (distance == least && !nearest)) {
            nearest = list[i];
            least = distance;
        }
    }
    return nearest;
}

/* "a, b, c", shortened with "..." if it grows long. */
static void join_words(const char *const *word, size_t count, const char *quote, char *text,
                       size_t size) {
    size_t used = 0;
    text[0] = '\0';
    for (size_t i = 0; i < count; i++) {
        const char *comma = i > 0 ? ", " : "";
        if (used + strlen(comma) + strlen(word[i]) + 2 * strlen(quote) + 6 > size) {
            snprintf(text + used, size - used, ", ...");
            return;
        }
        used +=
            (size_t)snprintf(text + used, size - used, "%s%s%s%s", comma, quote, word[i], quote);
    }
}

bool vs_json_is_note(const vs_json_value *member) {
    const char *key = vs_json_key(member);
    return key && strncmp(key, NOTE, strlen(NOTE)) == 0;
}

static bool is_known(const char *key, const char *const *known, size_t count) {
    bool found = strncmp(key, NOTE, strlen(NOTE)) == 0;
    for (size_t i = 0; i < count && !found; i++) {
        found = strcmp(key, known[i]) == 0;
    }
    return found;
}

bool vs_json_check_object(const vs_json_value *value, const char *const *key, size_t key_count) {
    if (!vs_json_is_object(value)) {
        vs_json_fault_got(value, "must be an object, { }");
        return false;
    }
    for (const cJSON *item = value->item->child; item; item = item->next) {
        if (is_known(item->string, key, key_count)) {
            continue;
        }
        vs_json_value member = vs_json_get(value, item->string);
        const char *nearest = vs_json_nearest(item->string, key, key_count);
        char known[160];
        join_words(key, key_count, "", known, sizeof known);
        if (nearest) {
            vs_json_fault(&member, "unknown key; did you mean \"%s\"?", nearest);
        } else {
            vs_json_fault(&member, "unknown key; known here are %s", known);
        }
    }
    return true;
}

bool vs_json_check_array(const vs_json_value *value, size_t fewest, size_t most, const char *what) {
    size_t count = vs_json_count(value);
    if (!vs_json_is_array(value)) {
        vs_json_fault_got(value, "must be an array of %s, [ ]", what);
        return false;
    }
    if (count < fewest || count > most) {
        vs_json_fault(value, "must hold %zu to %zu %s (got %zu)", fewest, most, what, count);
        return false;
    }
    return true;
}

/* The member, or the value itself if no key is given. */
static vs_json_value member_of(const vs_json_value *object, const char *key) {
    return key ? vs_json_get(object, key) : *object;
}

/* A limit as people write it: 1e6 for 1e+06. */
static void print_limit(double limit, char *text, size_t size) {
    snprintf(text, size, "%.6g", limit);
    char *plus = strstr(text, "e+");
    if (plus) {
        char *digit = plus + 2;
        digit += *digit == '0';
        memmove(plus + 1, digit, strlen(digit) + 1);
    }
}

bool vs_json_check_range(const vs_json_value *value, double number, vs_json_range range,
                         const char *unit, double unit_si) {
    if ((range.open_low ? number > range.low : number >= range.low) &&
        (range.open_high ? number < range.high : number <= range.high)) {
        return true;
    }
    char low[24], high[24];
    print_limit(range.low / unit_si, low, sizeof low);
    print_limit(range.high / unit_si, high, sizeof high);
    if (range.open_low && number == range.low) {
        vs_json_fault_got(value, "must be over %s%s", low, unit);
    } else if (range.open_high && number == range.high) {
        vs_json_fault_got(value, "must be under %s%s", high, unit);
    } else {
        vs_json_fault_got(value, "must be between %s and %s%s", low, high, unit);
    }
    return false;
}

double vs_json_need_number(const vs_json_value *object, const char *key, vs_json_range range) {
    vs_json_value value = member_of(object, key);
    if (!vs_json_is_number(&value)) {
        char low[24], high[24];
        print_limit(range.low, low, sizeof low);
        print_limit(range.high, high, sizeof high);
        vs_json_fault_got(&value, "must be a number between %s and %s", low, high);
        return NAN;
    }
    double number = value.item->valuedouble;
    number = fabs(number) < NUMBER_LEAST ? 0 : number;
    return vs_json_check_range(&value, number, range, "", 1.0) ? number : (double)NAN;
}

double vs_json_take_number(const vs_json_value *object, const char *key, vs_json_range range,
                           double fallback) {
    vs_json_value value = member_of(object, key);
    return vs_json_exists(&value) ? vs_json_need_number(&value, NULL, range) : fallback;
}

bool vs_json_need_numbers(const vs_json_value *object, const char *key, vs_json_range range,
                          double *number, size_t count) {
    vs_json_value value = member_of(object, key);
    bool right = vs_json_is_array(&value) && vs_json_count(&value) == count;
    if (!right) {
        vs_json_fault_got(&value, "must be an array of %zu numbers", count);
    }
    for (size_t i = 0; i < count; i++) {
        vs_json_value element = vs_json_at(&value, i);
        number[i] = right ? vs_json_need_number(&element, NULL, range) : (double)NAN;
    }
    for (size_t i = 0; i < count; i++) {
        right = right && !isnan(number[i]);
    }
    return right;
}

static bool has_control(const char *text) {
    const unsigned char *c = (const unsigned char *)text;
    while (*c >= 0x20 && *c != 0x7f) {
        c++;
    }
    return *c != '\0';
}

const char *vs_json_need_text(const vs_json_value *object, const char *key) {
    vs_json_value value = member_of(object, key);
    if (!vs_json_is_text(&value)) {
        vs_json_fault_got(&value, "must be a text in double quotes");
        return NULL;
    }
    const char *text = value.item->valuestring;
    size_t length = strlen(text);
    if (length == 0 || length > VS_JSON_TEXT_MAX) {
        vs_json_fault(&value, "must be a text of 1 to %d bytes (got %zu)", VS_JSON_TEXT_MAX,
                      length);
        return NULL;
    }
    if (has_control(text)) {
        vs_json_fault(&value, "must be a text without control characters (got one)");
        return NULL;
    }
    return text;
}

const char *vs_json_take_text(const vs_json_value *object, const char *key, const char *fallback) {
    vs_json_value value = member_of(object, key);
    return vs_json_exists(&value) ? vs_json_need_text(&value, NULL) : fallback;
}

size_t vs_json_need_choice(const vs_json_value *object, const char *key, const char *const *word,
                           size_t word_count) {
    vs_json_value value = member_of(object, key);
    for (size_t i = 0; vs_json_is_text(&value) && i < word_count; i++) {
        if (strcmp(value.item->valuestring, word[i]) == 0) {
            return i;
        }
    }
    char words[160];
    join_words(word, word_count, "\"", words, sizeof words);
    const char *near =
        vs_json_is_text(&value) ? vs_json_nearest(value.item->valuestring, word, word_count) : NULL;
    vs_json_fault_got(&value, "must be %s%s%s%s%s", word_count > 1 ? "one of " : "", words,
                      near ? "; did you mean \"" : "", near ? near : "", near ? "\"?" : "");
    return SIZE_MAX;
}

size_t vs_json_take_choice(const vs_json_value *object, const char *key, const char *const *word,
                           size_t word_count, size_t fallback) {
    vs_json_value value = member_of(object, key);
    return vs_json_exists(&value) ? vs_json_need_choice(&value, NULL, word, word_count) : fallback;
}

bool vs_json_take_bool(const vs_json_value *object, const char *key, bool fallback) {
    vs_json_value value = member_of(object, key);
    if (vs_json_exists(&value) && !cJSON_IsBool(value.item)) {
        vs_json_fault_got(&value, "must be true or false");
        return fallback;
    }
    return vs_json_exists(&value) ? cJSON_IsTrue(value.item) : fallback;
}
