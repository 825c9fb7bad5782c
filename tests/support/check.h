/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Checks that fail on NaN, and reference tables that check themselves.
 * cmocka 1.1.5's float asserts narrow to float and let NaN pass: they are not used here. */
#ifndef VEILSTOP_TESTS_CHECK_H
#define VEILSTOP_TESTS_CHECK_H

#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

/* got must be within absolute + relative |want| of want; NaN on either side fails. */
#define CHECK_NEAR(got, want, relative, absolute)                                                  \
    check_near((got), (want), (relative), (absolute), #got, __FILE__, __LINE__)
/* got must have the digits printed in a table: within one half (times 1.0001) of `unit`. */
#define CHECK_PRINTED(got, want, unit)                                                             \
    check_near((got), (want), 0, 0.50005 * (unit), #got, __FILE__, __LINE__)
#define CHECK_TRUE(condition) check_true((condition), #condition, __FILE__, __LINE__)
#define CHECK_OK(status)      check_status((int)(status), 0, #status, __FILE__, __LINE__)
#define CHECK_STATUS(status, want)                                                                 \
    check_status((int)(status), (int)(want), #status, __FILE__, __LINE__)
#define CHECK_NAN(value) check_true((value) != (value), #value " is NaN", __FILE__, __LINE__)

void check_near(double got, double want, double relative, double absolute, const char *what,
                const char *file, int line);
void check_true(bool holds, const char *what, const char *file, int line);
void check_status(int got, int want, const char *what, const char *file, int line);

/* A CSV of published values: '#' lines are its head (source, table, convention) and must contain
 * "source:"; then one line of column names; then rows. Cells are text or numbers. */
#define TABLE_COLUMNS 32
typedef struct {
    char *text;  /* the file, cut into cells */
    char **cell; /* rows x columns */
    size_t rows, columns;
    char *name[TABLE_COLUMNS];
} table;

/* Reads tests/reference/NAME; fails the test where the file, a source line or a column is missing,
 * a row is short, or the row count is not `rows`. */
table table_read(const char *name, size_t rows);
void table_free(table *t);
/* The cell of a row by column name: as a number (fails if it is none) or as text. */
double table_number(const table *t, size_t row, const char *column);
const char *table_text(const table *t, size_t row, const char *column);
/* The value of the last digit printed in that cell: 1e-4 for "0.1234", 10 for "12e1". */
double table_unit(const table *t, size_t row, const char *column);

/* Repeatable random numbers for property tests (splitmix64; Steele, Lea, Flood 2014). */
typedef struct {
    uint64_t state;
} random_stream;
double random_uniform(random_stream *r, double low, double high);
double random_log_uniform(random_stream *r, double low, double high);
size_t random_index(random_stream *r, size_t count);

/* The whole of a file as bytes plus a NUL; NULL if it cannot be read. Caller frees. */
char *file_read(const char *path, size_t *length);

/* The path of a file of the project, by its path from the tests' folder. */
#define TESTS_PATH_SIZE 1024
void tests_path(char path[TESTS_PATH_SIZE], const char *name);
/* The whole of such a file, as file_read gives it; fails the test where it cannot be read. */
char *tests_file(const char *name, size_t *length);

/* Seconds on a clock that only goes forward. */
double clock_now_s(void);

/* Turns GSL's abort handler off and runs a cmocka group; every test main returns this. */
#define RUN_TESTS(tests) (tests_begin(), cmocka_run_group_tests(tests, NULL, NULL))
void tests_begin(void);

#endif
