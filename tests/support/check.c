/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See check.h. */
#include "check.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "veilstop/base/numerics.h"

void check_near(double got, double want, double relative, double absolute, const char *what,
                const char *file, int line) {
    if (!(fabs(got - want) <= absolute + relative * fabs(want))) {
        print_error("%s: got %.17g, want %.17g (off by %.3g, allowed %.3g)\n", what, got, want,
                    fabs(got - want), absolute + relative * fabs(want));
        _fail(file, line);
    }
}

void check_true(bool holds, const char *what, const char *file, int line) {
    if (!holds) {
        print_error("does not hold: %s\n", what);
        _fail(file, line);
    }
}

void check_status(int got, int want, const char *what, const char *file, int line) {
    if (got != want) {
        print_error("%s: status %d, want %d\n", what, got, want);
        _fail(file, line);
    }
}

char *file_read(const char *path, size_t *length) {
    FILE *file = fopen(path, "rb");
    if (!file) {
        return NULL;
    }
    size_t used = 0, size = 1 << 16;
    char *bytes = malloc(size + 1);
    for (size_t got; bytes && (got = fread(bytes + used, 1, size - used, file)) > 0;) {
        used += got;
        if (used == size) {
            size *= 2;
            bytes = realloc(bytes, size + 1);
        }
    }
    fclose(file);
    if (bytes) {
        bytes[used] = '\0';
    }
    if (length) {
        *length = used;
    }
    return bytes;
}

void tests_path(char path[TESTS_PATH_SIZE], const char *name) {
    const char *tests = getenv("VS_TESTS");
    snprintf(path, TESTS_PATH_SIZE, "%s/%s", tests ? tests : "tests", name);
}

char *tests_file(const char *name, size_t *length) {
    char path[TESTS_PATH_SIZE];
    tests_path(path, name);
    char *bytes = file_read(path, length);
    if (!bytes) {
        fail_msg("cannot read %s", path);
    }
    return bytes;
}

double clock_now_s(void) {
    struct timespec now;
    clock_gettime(CLOCK_MONOTONIC, &now);
    return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static size_t split(char *line, char **cell, size_t most) {
    size_t count = 0;
    for (char *next = line; next; count++) {
        char *comma = strchr(next, ',');
        if (comma) {
            *comma = '\0';
        }
        if (count < most) {
            cell[count] = next;
        }
        next = comma ? comma + 1 : NULL;
    }
    return count;
}

table table_read(const char *name, size_t rows) {
    table t = {0};
    char path[512];
    snprintf(path, sizeof path, "reference/%s", name);
    t.text = tests_file(path, NULL);
    if (!strstr(t.text, "# source:")) {
        fail_msg("%s: its head names no source", path);
    }
    t.cell = calloc((rows + 1) * TABLE_COLUMNS, sizeof *t.cell);
    char *save = NULL;
    for (char *line = strtok_r(t.text, "\n", &save); line; line = strtok_r(NULL, "\n", &save)) {
        if (*line == '#' || *line == '\0') {
            continue;
        }
        if (t.columns == 0) {
            t.columns = split(line, t.name, TABLE_COLUMNS);
            assert_in_range(t.columns, 1, TABLE_COLUMNS);
            continue;
        }
        if (t.rows < rows && split(line, t.cell + t.rows * t.columns, t.columns) != t.columns) {
            fail_msg("%s: row %zu has not %zu cells", path, t.rows + 1, t.columns);
        }
        t.rows++;
    }
    if (t.rows != rows) {
        fail_msg("%s: %zu rows, want %zu", path, t.rows, rows);
    }
    return t;
}

void table_free(table *t) {
    free(t->cell);
    free(t->text);
    memset(t, 0, sizeof *t);
}

const char *table_text(const table *t, size_t row, const char *column) {
    for (size_t c = 0; c < t->columns; c++) {
        if (strcmp(t->name[c], column) == 0 && row < t->rows) {
            return t->cell[row * t->columns + c];
        }
    }
    fail_msg("no row %zu, column %s", row, column);
    return "";
}

double table_number(const table *t, size_t row, const char *column) {
    const char *text = table_text(t, row, column);
    char *end;
    double value = strtod(text, &end);
    if (end == text || *end || !isfinite(value)) {
        fail_msg("row %zu, column %s: not a number: %s", row, column, text);
    }
    return value;
}

double table_unit(const table *t, size_t row, const char *column) {
    const char *text = table_text(t, row, column);
    const char *exponent = strpbrk(text, "eE");
    const char *point = strchr(text, '.');
    long decimals = 0;
    if (point) {
        decimals = (long)strspn(point + 1, "0123456789");
    }
    long power = exponent ? strtol(exponent + 1, NULL, 10) : 0;
    return pow(10, (double)(power - decimals));
}

static uint64_t random_bits(random_stream *r) {
    uint64_t z = (r->state += 0x9e3779b97f4a7c15u);
    z = (z ^ (z >> 30)) * 0xbf58476d1ce4e5b9u;
    z = (z ^ (z >> 27)) * 0x94d049bb133111ebu;
    return z ^ (z >> 31);
}

double random_uniform(random_stream *r, double low, double high) {
    return low + (high - low) * (double)(random_bits(r) >> 11) * 0x1p-53;
}

double random_log_uniform(random_stream *r, double low, double high) {
    return exp(random_uniform(r, log(low), log(high)));
}

size_t random_index(random_stream *r, size_t count) {
    return (size_t)(random_bits(r) % count);
}

void tests_begin(void) {
    vs_numerics_handler_off();
}
