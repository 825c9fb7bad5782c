/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Lengths as crews write them, read independently of the locale. */
#include "veilstop/base/units.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

double vs_length_unit_m(vs_length_unit unit) {
    return unit == VS_LENGTH_FT ? VS_M_PER_FT : 1.0;
}

static size_t count_digits(const char *text) {
    return strspn(text, "0123456789");
}

/* The length of a number's text: sign, digits, fraction, exponent; 0 where there is none. */
static size_t number_span(const char *text) {
    const char *c = text;
    c += *c == '-' || *c == '+';
    size_t whole = count_digits(c);
    c += whole;
    size_t fraction = 0;
    if (*c == '.') {
        fraction = count_digits(c + 1);
        c += 1 + fraction;
    }
    if (whole + fraction == 0) {
        return 0;
    }
    if (*c == 'e' || *c == 'E') {
        const char *exponent = c + 1;
        exponent += *exponent == '-' || *exponent == '+';
        size_t digits = count_digits(exponent);
        if (digits > 0) {
            c = exponent + digits;
        }
    }
    return (size_t)(c - text);
}

size_t vs_number_parse(const char *text, double *value) {
    *value = NAN;
    size_t span = number_span(text);
    char digits[64];
    if (span == 0 || span >= sizeof digits) {
        return 0;
    }
    memcpy(digits, text, span);
    digits[span] = '\0';
    /* strtod follows the locale's decimal point; the program never calls setlocale, so that stays
     * "C" unless a host program changed it. Then the span differs and the number is refused. */
    char *end = NULL;
    *value = strtod(digits, &end);
    if (end != digits + span || !isfinite(*value)) {
        *value = NAN;
        return 0;
    }
    return span;
}

static const char *skip_blanks(const char *text) {
    return text + strspn(text, " \t");
}

/* Skips `word` at the front of *text. */
static bool take(const char **text, const char *word) {
    size_t length = strlen(word);
    if (strncmp(*text, word, length) != 0) {
        return false;
    }
    *text += length;
    return true;
}

static double unit_taken_m(const char **text) {
    static const struct {
        const char *word;
        double m;
    } unit[] = {{"mm", 0.001},       {"cm", 0.01},       {"m", 1.0},         {"ft", VS_M_PER_FT},
                {"in", VS_M_PER_IN}, {"'", VS_M_PER_FT}, {"\"", VS_M_PER_IN}};
    for (size_t i = 0; i < sizeof unit / sizeof unit[0]; i++) {
        if (take(text, unit[i].word)) {
            return unit[i].m;
        }
    }
    return NAN;
}

/* Inches may follow "12'" or "12 ft": "6\"" or "6 in". They take the sign of the feet. */
static bool add_inches(const char **text, double *length_m) {
    double inches;
    size_t used = vs_number_parse(*text, &inches);
    if (used == 0 || **text == '-' || **text == '+') {
        return false;
    }
    *text = skip_blanks(*text + used);
    if (unit_taken_m(text) != VS_M_PER_IN) {
        return false;
    }
    *length_m += copysign(inches * VS_M_PER_IN, *length_m);
    return true;
}

vs_status vs_length_parse(const char *text, double *length_m) {
    *length_m = NAN;
    double number;
    const char *rest = skip_blanks(text);
    size_t used = vs_number_parse(rest, &number);
    if (used == 0) {
        return VS_ERR_INPUT;
    }
    rest = skip_blanks(rest + used);
    double unit_m = unit_taken_m(&rest);
    double sum_m = number * unit_m;
    rest = skip_blanks(rest);
    if (*rest && unit_m == VS_M_PER_FT && !add_inches(&rest, &sum_m)) {
        return VS_ERR_INPUT;
    }
    if (*skip_blanks(rest) || !isfinite(sum_m)) {
        return VS_ERR_INPUT;
    }
    *length_m = sum_m;
    return VS_OK;
}
