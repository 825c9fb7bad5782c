/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. Rows are collected table by table, because those of one list may be far apart. */
#include "cli/csv.h"

#include <cjson/cJSON.h>
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/growable.h"

#define PATH_SIZE 256 /* [bytes] of a column's or table's name */
#define SHORT_MAX 4   /* most numbers of a list that becomes columns */
#define DEPTH_MAX 8   /* lists within one another */

typedef struct {
    size_t column;
    char *text;
} cell;

typedef struct {
    cell *item;
    size_t count, size;
} row;

typedef struct {
    char *name, **column;
    size_t column_count, column_size;
    row *rows;
    size_t row_count, row_size;
} table;

/* A list that contains a row: its name, and the item's. */
typedef struct {
    const char *list, *thing;
    const cJSON *density; /* of a shot given at several; NULL: none */
    char number[24];
} place;

typedef struct {
    table *item;
    size_t count, size;
    place within[DEPTH_MAX];
    size_t depth;
    bool failed; /* out of memory */
} tables;

/* One more zeroed element of `bytes` at the end of an array; NULL when memory runs out. */
static void *one_more(tables *t, void *array, size_t *count, size_t *size, size_t bytes) {
    char **held = array;
    char *grown = vs_growable_reserve(*held, *count, size, bytes);
    if (!grown) {
        t->failed = true;
        return NULL;
    }
    *held = grown;
    memset(grown + *count * bytes, 0, bytes);
    return grown + (*count)++ * bytes;
}

static char *copy_of(tables *t, const char *text) {
    char *copy = malloc(strlen(text) + 1);
    t->failed = t->failed || !copy;
    return copy ? strcpy(copy, text) : NULL;
}

static size_t table_named(tables *t, const char *name) {
    for (size_t i = 0; i < t->count; i++) {
        if (t->item[i].name && strcmp(t->item[i].name, name) == 0) {
            return i;
        }
    }
    table *fresh = one_more(t, &t->item, &t->count, &t->size, sizeof *t->item);
    if (fresh) {
        fresh->name = copy_of(t, name);
    }
    return t->count - 1;
}

static size_t column_named(tables *t, table *in, const char *name) {
    for (size_t i = 0; i < in->column_count; i++) {
        if (in->column[i] && strcmp(in->column[i], name) == 0) {
            return i;
        }
    }
    char **fresh =
        one_more(t, &in->column, &in->column_count, &in->column_size, sizeof *in->column);
    if (fresh) {
        *fresh = copy_of(t, name);
    }
    return in->column_count - 1;
}

static void add_cell(tables *t, size_t which, const char *column, const char *text) {
    if (t->failed) {
        return;
    }
    table *in = &t->item[which];
    size_t place_of = column_named(t, in, column);
    row *last = &in->rows[in->row_count - 1];
    cell *fresh =
        t->failed ? NULL : one_more(t, &last->item, &last->count, &last->size, sizeof *last->item);
    if (fresh) {
        fresh->column = place_of;
        fresh->text = copy_of(t, text);
    }
}

static void add_scalar(tables *t, size_t which, const char *column, const cJSON *value) {
    char number[32];
    if (cJSON_IsString(value)) {
        add_cell(t, which, column, value->valuestring);
    } else if (cJSON_IsNumber(value)) {
        snprintf(number, sizeof number, "%.9g", value->valuedouble);
        add_cell(t, which, column, number);
    } else {
        add_cell(t, which, column,
                 cJSON_IsNull(value)   ? ""
                 : cJSON_IsTrue(value) ? "true"
                                       : "false");
    }
}

static bool is_scalar(const cJSON *value) {
    return !cJSON_IsArray(value) && !cJSON_IsObject(value);
}

/* Whether a list is a few figures that belong together: bands, a place, a pair of names. */
static bool is_short(const cJSON *list) {
    if (!cJSON_IsArray(list) || cJSON_GetArraySize(list) > SHORT_MAX) {
        return false;
    }
    bool pair = cJSON_GetArraySize(list) == 2; /* of names: the two points */
    for (const cJSON *c = list->child; c; c = c->next) {
        if (!cJSON_IsNumber(c) && !cJSON_IsNull(c) && !(pair && cJSON_IsString(c))) {
            return false;
        }
    }
    return list->child != NULL;
}

static void begin_row(tables *t, size_t which) {
    if (!t->failed) {
        (void)one_more(t, &t->item[which].rows, &t->item[which].row_count, &t->item[which].row_size,
                       sizeof(row));
    }
    for (size_t i = 0; i + 1 < t->depth; i++) {
        add_cell(t, which, t->within[i].list, t->within[i].thing);
        if (t->within[i].density) {
            add_scalar(t, which, "extinction_per_m", t->within[i].density);
        }
    }
}

static void add_fields(tables *t, size_t which, const char *prefix, const cJSON *object) {
    for (const cJSON *c = object->child; c && !t->failed; c = c->next) {
        char column[PATH_SIZE], numbered[PATH_SIZE + 16];
        snprintf(column, sizeof column, "%s%s%s", prefix, *prefix ? "." : "", c->string);
        if (is_scalar(c)) {
            add_scalar(t, which, column, c);
        } else if (cJSON_IsObject(c)) {
            add_fields(t, which, column, c);
        } else if (is_short(c)) {
            int i = 1;
            for (const cJSON *n = c->child; n; n = n->next, i++) {
                snprintf(numbered, sizeof numbered, "%s.%d", column, i);
                add_scalar(t, which, numbered, n);
            }
        }
    }
}

static void add_lists(tables *t, const char *path, const cJSON *object);

/* Each element is a row, followed by the lists within it. */
static void add_list(tables *t, const char *path, const cJSON *list) {
    if (t->depth == DEPTH_MAX) {
        return;
    }
    size_t which = table_named(t, path);
    place *here = &t->within[t->depth++];
    here->list = strrchr(path, '.') ? strrchr(path, '.') + 1 : path;
    size_t index = 0;
    for (const cJSON *c = list->child; c && !t->failed; c = c->next) {
        const cJSON *name = cJSON_GetObjectItemCaseSensitive(c, "name");
        snprintf(here->number, sizeof here->number, "%zu", ++index);
        here->density = cJSON_GetObjectItemCaseSensitive(
            cJSON_GetObjectItemCaseSensitive(c, "density"), "extinction_per_m");
        here->thing = cJSON_IsString(name) ? name->valuestring : here->number;
        begin_row(t, which);
        if (cJSON_IsObject(c)) {
            add_fields(t, which, "", c);
            add_lists(t, path, c);
        } else if (is_scalar(c)) {
            add_scalar(t, which, "value", c);
        } else if (cJSON_IsArray(c)) {
            int i = 1;
            char column[16];
            for (const cJSON *n = c->child; n; n = n->next, i++) {
                snprintf(column, sizeof column, "%d", i);
                add_scalar(t, which, column, n);
            }
        }
    }
    here->list = here->thing = NULL; /* the caller's texts go */
    t->depth--;
}

static void add_lists(tables *t, const char *path, const cJSON *object) {
    for (const cJSON *c = object->child; c && !t->failed; c = c->next) {
        char below[PATH_SIZE];
        snprintf(below, sizeof below, "%s%s%s", path, *path ? "." : "", c->string);
        if (cJSON_IsObject(c)) {
            add_lists(t, below, c);
        } else if (cJSON_IsArray(c) && !is_short(c)) {
            add_list(t, below, c);
        }
    }
}

/* A field, in quotes if RFC 4180 requires them. */
static void print_field(vs_text *out, const char *text) {
    if (!strpbrk(text, ",\"\r\n")) {
        vs_text_addf(out, "%s", text);
        return;
    }
    vs_text_addf(out, "\"");
    for (const char *c = text; *c; c++) {
        vs_text_add(out, c, 1);
        vs_text_add(out, "\"", *c == '"');
    }
    vs_text_addf(out, "\"");
}

static void print_table(vs_text *out, const table *in) {
    print_field(out, in->name);
    vs_text_addf(out, "\n");
    for (size_t i = 0; i < in->column_count; i++) {
        vs_text_addf(out, "%s", i ? "," : "");
        print_field(out, in->column[i]);
    }
    vs_text_addf(out, "\n");
    for (size_t r = 0; r < in->row_count; r++) {
        for (size_t i = 0; i < in->column_count; i++) {
            vs_text_addf(out, "%s", i ? "," : "");
            for (size_t c = 0; c < in->rows[r].count; c++) {
                if (in->rows[r].item[c].column == i) {
                    print_field(out, in->rows[r].item[c].text);
                }
            }
        }
        vs_text_addf(out, "\n");
    }
    vs_text_addf(out, "\n");
}

static void tables_free(tables *t) {
    for (size_t i = 0; i < t->count; i++) {
        table *in = &t->item[i];
        for (size_t r = 0; r < in->row_count; r++) {
            for (size_t c = 0; c < in->rows[r].count; c++) {
                free(in->rows[r].item[c].text);
            }
            free(in->rows[r].item);
        }
        for (size_t c = 0; c < in->column_count; c++) {
            free(in->column[c]);
        }
        free(in->column);
        free(in->rows);
        free(in->name);
    }
    free(t->item);
}

vs_status vs_cli_csv(const char *json, vs_text *out) {
    cJSON *answer = cJSON_Parse(json);
    if (!cJSON_IsObject(answer)) {
        cJSON_Delete(answer);
        return VS_ERR_INPUT;
    }
    tables t = {0};
    size_t first = table_named(&t, "answer");
    begin_row(&t, first);
    add_fields(&t, first, "", answer);
    add_lists(&t, "", answer);
    for (size_t i = 0; i < t.count && !t.failed; i++) {
        if (t.item[i].row_count > 0) {
            print_table(out, &t.item[i]);
        }
    }
    bool failed = t.failed || out->failed;
    tables_free(&t);
    cJSON_Delete(answer);
    return failed ? VS_ERR_MEMORY : VS_OK;
}
