/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A JSON document as a tree of values that know their place: parsed by cJSON once json_scan.c has
 * accepted it, checked for repeated keys and numbers that overflow, navigated by JSON pointers (RFC
 * 6901). */
#include "veilstop/scene/json.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene/json/json_scan.h"
#include "veilstop/base/utf8.h"

/* Appends "/token", escaped by RFC 6901 section 3: ~ is ~0, / is ~1. Truncated when full. */
static void append_token(char *pointer, size_t size, const char *token) {
    size_t used = strlen(pointer);
    if (used + 1 < size) {
        pointer[used++] = '/';
    }
    for (const char *c = token; *c && used + 2 < size; c++) {
        if (*c == '~' || *c == '/') {
            pointer[used++] = '~';
            pointer[used++] = *c == '~' ? '0' : '1';
        } else {
            pointer[used++] = *c;
        }
    }
    pointer[used] = '\0';
}

/* The value of a child; its token is its key or its index. */
static vs_json_value child_value(const vs_json_value *parent, const struct cJSON *item,
                                 const char *key, size_t index) {
    vs_json_value value = *parent;
    value.item = item;
    char number[24];
    snprintf(number, sizeof number, "%zu", index);
    append_token(value.pointer, sizeof value.pointer, key ? key : number);
    return value;
}

typedef struct {
    const char *key;
    size_t index;
} indexed_key;

static int compare_keys(const void *a, const void *b) {
    const indexed_key *x = a, *y = b;
    int order = strcmp(x->key, y->key);
    return order != 0 ? order : x->index < y->index ? -1 : x->index > y->index;
}

/* Sorting puts equal keys next to each other: n log n for any number of keys. */
static vs_status check_repeats(const vs_json_value *object) {
    size_t count = vs_json_count(object);
    indexed_key *keys = count > 1 ? malloc(count * sizeof *keys) : NULL;
    if (!keys) {
        return count > 1 ? VS_ERR_MEMORY : VS_OK;
    }
    size_t i = 0;
    for (const cJSON *member = object->item->child; member; member = member->next, i++) {
        keys[i] = (indexed_key){member->string, i};
    }
    qsort(keys, count, sizeof *keys, compare_keys);
    for (i = 1; i < count; i++) {
        if (strcmp(keys[i].key, keys[i - 1].key) == 0) {
            vs_json_value member = child_value(object, NULL, keys[i].key, 0);
            vs_json_fault(&member, "must be given once (got it again)");
        }
    }
    free(keys);
    return VS_OK;
}

/* Checks beyond the grammar. At most VS_JSON_DEPTH_MAX deep. */
static vs_status check_tree(const vs_json_value *value) {
    if (vs_json_is_number(value) && !isfinite(value->item->valuedouble)) {
        vs_json_fault(value, "must be a number within about 1.8e308 (got one beyond)");
        return VS_OK;
    }
    vs_status status = vs_json_is_object(value) ? check_repeats(value) : VS_OK;
    size_t index = 0;
    for (const cJSON *item = value->item->child; item && status == VS_OK; item = item->next) {
        vs_json_value child = child_value(value, item, item->string, index++);
        status = check_tree(&child);
    }
    return status;
}

vs_status vs_json_document_init(vs_json_document *document, const char *bytes, size_t length,
                                vs_faults *faults) {
    document->root = NULL;
    size_t before = faults->count + faults->more;
    if (!vs_json_scan(bytes, length, faults)) {
        return VS_ERR_INPUT;
    }
    document->root = cJSON_ParseWithLength(bytes, length);
    if (!document->root) {
        return VS_ERR_MEMORY; /* the grammar was valid, so no other cause is left */
    }
    vs_json_value root = vs_json_root(document, faults);
    vs_status status = check_tree(&root);
    if (status == VS_OK && faults->count + faults->more > before) {
        status = VS_ERR_INPUT;
    }
    if (status != VS_OK) {
        vs_json_document_free(document);
    }
    return status;
}

void vs_json_document_free(vs_json_document *document) {
    cJSON_Delete(document->root);
    document->root = NULL;
}

vs_json_value vs_json_root(const vs_json_document *document, vs_faults *faults) {
    vs_json_value root = {.item = document->root, .faults = faults};
    return root;
}

vs_json_value vs_json_get(const vs_json_value *object, const char *key) {
    const cJSON *item = NULL;
    if (vs_json_is_object(object)) {
        item = cJSON_GetObjectItemCaseSensitive(object->item, key);
    }
    return child_value(object, item, key, 0);
}

vs_json_value vs_json_at(const vs_json_value *list, size_t index) {
    const cJSON *item = NULL;
    if (vs_json_is_array(list) || vs_json_is_object(list)) {
        item = list->item->child;
        for (size_t i = 0; i < index && item; i++) {
            item = item->next;
        }
    }
    return child_value(list, item, item && vs_json_is_object(list) ? item->string : NULL, index);
}

size_t vs_json_count(const vs_json_value *list) {
    size_t count = 0;
    if (vs_json_is_array(list) || vs_json_is_object(list)) {
        for (const cJSON *item = list->item->child; item; item = item->next) {
            count++;
        }
    }
    return count;
}

const char *vs_json_key(const vs_json_value *member) {
    return member->item ? member->item->string : NULL;
}

/* An array index of RFC 6901: digits without leading zeros; SIZE_MAX for anything else. */
static size_t token_index(const char *token) {
    size_t length = strlen(token);
    bool plain = length > 0 && length <= 9 && strspn(token, "0123456789") == length;
    return plain && (token[0] != '0' || length == 1) ? (size_t)strtoul(token, NULL, 10) : SIZE_MAX;
}

vs_json_value vs_json_resolve(const vs_json_value *root, const char *pointer) {
    vs_json_value value = *root, nothing = *root;
    nothing.item = NULL;
    while (*pointer && value.item) {
        char token[VS_FAULT_WHERE_SIZE];
        if (*pointer != '/' || !vs_json_pointer_token(&pointer, token, sizeof token)) {
            return nothing;
        }
        size_t index = token_index(token);
        if (vs_json_is_array(&value)) {
            value = index == SIZE_MAX ? nothing : vs_json_at(&value, index);
        } else {
            value = vs_json_get(&value, token);
        }
    }
    return value;
}

vs_status vs_json_document_copy(const vs_json_document *document, vs_json_document *copy) {
    copy->root = cJSON_Duplicate(document->root, true);
    return copy->root ? VS_OK : VS_ERR_MEMORY;
}

/* The writable item of a tree that corresponds to a const one. */
static cJSON *writable(cJSON *tree, const cJSON *wanted) {
    cJSON *found = tree == wanted ? tree : NULL;
    for (cJSON *item = tree->child; item && !found; item = item->next) {
        found = writable(item, wanted);
    }
    return found;
}

bool vs_json_document_scale(vs_json_document *document, const char *pointer, double factor) {
    vs_faults unused = {0};
    vs_json_value root = vs_json_root(document, &unused);
    vs_json_value value = vs_json_resolve(&root, pointer);
    if (!vs_json_is_number(&value)) {
        return false;
    }
    cJSON *item = writable(document->root, value.item);
    cJSON_SetNumberHelper(item, item->valuedouble * factor);
    return true;
}

bool vs_json_exists(const vs_json_value *value) {
    return value->item != NULL;
}

bool vs_json_is_object(const vs_json_value *value) {
    return cJSON_IsObject(value->item);
}

bool vs_json_is_array(const vs_json_value *value) {
    return cJSON_IsArray(value->item);
}

bool vs_json_is_number(const vs_json_value *value) {
    return cJSON_IsNumber(value->item);
}

bool vs_json_is_text(const vs_json_value *value) {
    return cJSON_IsString(value->item);
}

bool vs_json_is_null(const vs_json_value *value) {
    return cJSON_IsNull(value->item);
}

bool vs_json_is_word(const vs_json_value *value, const char *word) {
    return vs_json_is_text(value) && strcmp(value->item->valuestring, word) == 0;
}

void vs_json_fault(const vs_json_value *value, const char *format, ...) {
    char text[VS_FAULT_TEXT_SIZE];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    vs_faults_add(value->faults, value->pointer, "%s", text);
}

/* A text as shown in a message: quoted, its first 40 bytes, cut between characters. */
static void describe_text(const char *text, char *shown, size_t size) {
    size_t length = 0;
    while (text[length] && length + vs_utf8_character(text + length) <= 40) {
        length += vs_utf8_character(text + length);
    }
    snprintf(shown, size, "\"%.*s%s\"", (int)length, text, text[length] ? "..." : "");
}

static void describe(const vs_json_value *value, char *shown, size_t size) {
    const cJSON *item = value->item;
    if (!item) {
        snprintf(shown, size, "nothing");
    } else if (cJSON_IsNumber(item)) {
        snprintf(shown, size, "%.15g", item->valuedouble);
    } else if (cJSON_IsArray(item)) {
        snprintf(shown, size, "an array of %zu", vs_json_count(value));
    } else if (cJSON_IsString(item)) {
        describe_text(item->valuestring, shown, size);
    } else {
        snprintf(shown, size, "%s",
                 cJSON_IsObject(item) ? "an object"
                 : cJSON_IsNull(item) ? "null"
                 : cJSON_IsTrue(item) ? "true"
                                      : "false");
    }
}

void vs_json_fault_got(const vs_json_value *value, const char *format, ...) {
    char text[VS_FAULT_TEXT_SIZE], got[64];
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    describe(value, got, sizeof got);
    vs_faults_add(value->faults, value->pointer, "%s (got %s)", text, got);
}
