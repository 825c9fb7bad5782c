/* SPDX-License-Identifier: GPL-3.0-or-later */
/* JSON changed by its structure: what the reader takes stays likely to be taken, so that the fuzzer
 * comes past it. */
#include "fuzz.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#define NODES_MAX  1500
#define BYTES_EACH 24 /* one change of so many is of bytes */

typedef struct {
    uint64_t state;
} dice;

/* splitmix64 (Steele, Lea, Flood 2014). */
static uint64_t draw(dice *d) {
    uint64_t z = (d->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

static size_t below(dice *d, size_t count) {
    return (size_t)(draw(d) % count);
}

static double uniform(dice *d) {
    return (double)(draw(d) >> 11) / 9007199254740992.0;
}

/* Every value of a document with what holds it. */
typedef struct {
    cJSON *item[NODES_MAX], *parent[NODES_MAX];
    size_t count;
} nodes;

static void collect(nodes *n, cJSON *item, cJSON *parent) {
    if (n->count == NODES_MAX) {
        return;
    }
    n->item[n->count] = item;
    n->parent[n->count++] = parent;
    if (!cJSON_IsArray(item) && !cJSON_IsObject(item)) {
        return;
    }
    for (cJSON *c = item->child; c; c = c->next) {
        collect(n, c, item);
    }
}

typedef cJSON_bool is_kind(const cJSON *item);

/* One of a kind, its index; none: the count. */
static size_t pick(const nodes *n, dice *d, is_kind *is) {
    size_t found = n->count, seen = 0;
    for (size_t i = 0; i < n->count; i++) {
        if (is(n->item[i]) && below(d, ++seen) == 0) {
            found = i;
        }
    }
    return found;
}

static double changed(double x, const nodes *n, dice *d) {
    static const double edge[] = {0,  1,   -1,    0.5,    2,   1e-9,     1e-3, 100, 360,
                                  90, 1e6, 1e155, 1e-170, 180, 0.999999, 1440, 3,   1e-300};
    size_t other = pick(n, d, cJSON_IsNumber);
    switch (below(d, 7)) {
    case 0:
        return edge[below(d, sizeof edge / sizeof edge[0])];
    case 1:
        return -x;
    case 2:
        return x * exp2(20 * uniform(d) - 10);
    case 3:
        return x + (uniform(d) - 0.5) * 1e-6;
    case 4:
        return other < n->count ? n->item[other]->valuedouble : x;
    case 5:
        return floor(x);
    default:
        return x * (0.7 + 0.6 * uniform(d));
    }
}

static void change_number(const nodes *n, dice *d) {
    size_t i = pick(n, d, cJSON_IsNumber);
    if (i < n->count) {
        double x = changed(n->item[i]->valuedouble, n, d);
        cJSON_SetNumberHelper(n->item[i], isfinite(x) ? x : 1);
    }
}

static void change_word(const nodes *n, dice *d) {
    size_t i = pick(n, d, cJSON_IsString), other = pick(n, d, cJSON_IsString);
    if (i < n->count && other != i) {
        cJSON_SetValuestring(n->item[i], n->item[other]->valuestring);
    }
}

/* Puts a copy of `from` in place of a value. */
static void replace(const nodes *n, size_t i, const cJSON *from) {
    cJSON *copy = n->parent[i] ? cJSON_Duplicate(from, true) : NULL;
    if (!copy) {
        return;
    }
    if (n->item[i]->string) {
        cJSON_ReplaceItemInObjectCaseSensitive(n->parent[i], n->item[i]->string, copy);
    } else {
        cJSON_ReplaceItemViaPointer(n->parent[i], n->item[i], copy);
    }
}

static bool same_key(const cJSON *a, const cJSON *b) {
    return a->string && b->string ? strcmp(a->string, b->string) == 0 : a->string == b->string;
}

/* A value in place of another of the same key. */
static void copy_over(const nodes *n, const nodes *from, dice *d) {
    size_t i = below(d, n->count), found = from->count, seen = 0;
    for (size_t k = 0; k < from->count; k++) {
        if (from->item[k] != n->item[i] && same_key(from->item[k], n->item[i]) &&
            below(d, ++seen) == 0) {
            found = k;
        }
    }
    if (found < from->count) {
        replace(n, i, from->item[found]);
    }
}

static void add_element(const nodes *n, dice *d) {
    size_t i = pick(n, d, cJSON_IsArray);
    int size = i < n->count ? cJSON_GetArraySize(n->item[i]) : 0;
    if (size == 0 || size > 8) {
        return;
    }
    cJSON *copy =
        cJSON_Duplicate(cJSON_GetArrayItem(n->item[i], (int)below(d, (size_t)size)), true);
    cJSON *name = cJSON_GetObjectItemCaseSensitive(copy, "name");
    if (cJSON_IsString(name)) { /* names must differ */
        char other[2] = {(char)('a' + below(d, 26)), '\0'};
        cJSON_SetValuestring(name, other);
    }
    cJSON_AddItemToArray(n->item[i], copy);
}

/* A member that another object has. */
static void add_member(const nodes *n, dice *d) {
    size_t i = pick(n, d, cJSON_IsObject), from = below(d, n->count);
    const char *key = n->item[from]->string;
    if (i < n->count && key && !cJSON_GetObjectItemCaseSensitive(n->item[i], key)) {
        cJSON_AddItemToObject(n->item[i], key, cJSON_Duplicate(n->item[from], true));
    }
}

static void take_away(const nodes *n, dice *d) {
    size_t i = below(d, n->count);
    if (n->parent[i]) {
        cJSON_Delete(cJSON_DetachItemViaPointer(n->parent[i], n->item[i]));
    }
}

static void change(cJSON *document, dice *d) {
    static nodes n;
    n.count = 0;
    collect(&n, document, NULL);
    switch (below(d, 14)) {
    case 0:
        take_away(&n, d);
        break;
    case 1:
        add_element(&n, d);
        break;
    case 2:
    case 3:
        change_word(&n, d);
        break;
    case 4:
    case 5:
        copy_over(&n, &n, d);
        break;
    case 6:
        add_member(&n, d);
        break;
    default:
        change_number(&n, d);
        break;
    }
}

/* The document as text, where it fits; else 0. Takes the document. */
static size_t print(cJSON *document, uint8_t *out, size_t most) {
    char *text = cJSON_PrintUnformatted(document);
    size_t length = text ? strlen(text) : 0;
    length = length <= most ? length : 0;
    if (length > 0) {
        memcpy(out, text, length);
    }
    free(text);
    cJSON_Delete(document);
    return length;
}

size_t fuzz_json_mutate(uint8_t *text, size_t length, size_t most, unsigned seed) {
    dice d = {seed};
    cJSON *document = cJSON_ParseWithLength((const char *)text, length);
    if (!document || below(&d, BYTES_EACH) == 0) {
        cJSON_Delete(document);
        return LLVMFuzzerMutate(text, length, most);
    }
    for (size_t i = 1 + below(&d, 3); i > 0; i--) {
        change(document, &d);
    }
    size_t printed = print(document, text, most);
    return printed > 0 ? printed : length;
}

size_t fuzz_json_cross(const uint8_t *one, size_t one_length, const uint8_t *other,
                       size_t other_length, uint8_t *out, size_t most, unsigned seed) {
    static nodes n, from;
    dice d = {seed};
    cJSON *a = cJSON_ParseWithLength((const char *)one, one_length);
    cJSON *b = cJSON_ParseWithLength((const char *)other, other_length);
    size_t length = 0;
    if (a && b) {
        n.count = from.count = 0;
        collect(&n, a, NULL);
        collect(&from, b, NULL);
        copy_over(&n, &from, &d);
        length = print(a, out, most);
        a = NULL;
    }
    cJSON_Delete(a);
    cJSON_Delete(b);
    return length;
}
