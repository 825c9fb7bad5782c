/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The text of an LM-63 file word by word.
 * Source: ANSI/IES LM-63-19, delimiters: a comma, blanks, the end of a line. */
#include "scene/lm63_scan.h"

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "veilstop/base/units.h"

#define SHOWN_MAX 40 /* characters of the file quoted in a message */
#define DOS_END   26 /* end-of-text byte of old systems */

vs_lm63_slice vs_lm63_text(const char *text) {
    vs_lm63_slice whole = {text, strlen(text)};
    return whole;
}

bool vs_lm63_starts_with(vs_lm63_slice slice, const char *word) {
    size_t length = strlen(word);
    return slice.length >= length && strncasecmp(slice.at, word, length) == 0;
}

bool vs_lm63_is_word(vs_lm63_slice slice, const char *word) {
    return slice.length == strlen(word) && vs_lm63_starts_with(slice, word);
}

vs_status vs_lm63_refuse(const vs_lm63_scanner *s, size_t line, const char *right,
                         vs_lm63_slice got) {
    char where[32], shown[SHOWN_MAX + 1];
    snprintf(where, sizeof where, "line %zu", line);
    size_t length = got.length < SHOWN_MAX ? got.length : SHOWN_MAX;
    for (size_t i = 0; i < length; i++) {
        /* the file's encoding is unknown, so only ASCII is passed on */
        bool plain = (unsigned char)got.at[i] >= ' ' && (unsigned char)got.at[i] < 0x7f;
        shown[i] = (char)(plain ? got.at[i] : '?');
    }
    shown[length] = '\0';
    vs_faults_add(s->faults, where, "%s (got %s%s)", right, shown,
                  got.length > length ? "..." : "");
    return VS_ERR_INPUT;
}

vs_status vs_lm63_refuse_number(const vs_lm63_scanner *s, const char *right, double got) {
    char text[32];
    snprintf(text, sizeof text, "%g", got);
    return vs_lm63_refuse(s, s->token_line, right, vs_lm63_text(text));
}

static bool is_separator(char c) {
    return c == ' ' || c == '\t' || c == ',' || c == '\r' || c == '\n' || c == DOS_END;
}

bool vs_lm63_next_line(vs_lm63_scanner *s, vs_lm63_slice *line) {
    if (s->at >= s->end) {
        return false;
    }
    const char *stop = memchr(s->at, '\n', (size_t)(s->end - s->at));
    s->token_line = s->line;
    line->at = s->at;
    line->length = (size_t)((stop ? stop : s->end) - s->at);
    while (line->length > 0 && is_separator(line->at[line->length - 1])) {
        line->length--;
    }
    s->line += stop != NULL;
    s->at = stop ? stop + 1 : s->end;
    return true;
}

bool vs_lm63_next_token(vs_lm63_scanner *s, vs_lm63_slice *token) {
    while (s->at < s->end && is_separator(*s->at)) {
        s->line += *s->at == '\n';
        s->at++;
    }
    token->at = s->at;
    while (s->at < s->end && !is_separator(*s->at)) {
        s->at++;
    }
    token->length = (size_t)(s->at - token->at);
    s->token_line = s->line;
    return token->length > 0;
}

vs_status vs_lm63_read_number(vs_lm63_scanner *s, const char *what, size_t index, double *number) {
    char right[96], digits[64] = "";
    vs_lm63_slice token;
    if (index > 0) {
        snprintf(right, sizeof right, "must be a number: %s %zu", what, index);
    } else {
        snprintf(right, sizeof right, "must be a number: %s", what);
    }
    *number = NAN;
    if (!vs_lm63_next_token(s, &token)) {
        return vs_lm63_refuse(s, s->line, right, vs_lm63_text("the end of the file"));
    }
    if (token.length < sizeof digits) {
        memcpy(digits, token.at, token.length);
    }
    if (vs_number_parse(digits, number) != token.length) {
        *number = NAN;
        return vs_lm63_refuse(s, s->token_line, right, token);
    }
    return VS_OK;
}

vs_status vs_lm63_read_count(vs_lm63_scanner *s, const char *what, int low, int high,
                             const char *right, int *count) {
    double number;
    *count = 0;
    vs_status status = vs_lm63_read_number(s, what, 0, &number);
    if (status != VS_OK) {
        return status;
    }
    if (!(number >= low && number <= high && number == floor(number))) {
        return vs_lm63_refuse_number(s, right, number);
    }
    *count = (int)number;
    return VS_OK;
}
