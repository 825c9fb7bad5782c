/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A strict reader of LM-63: whatever is missing or superfluous is reported with its line.
 * Source: ANSI/IES LM-63-19 and its editions of 1986, 1991, 1995 and 2002. */
#include "veilstop/scene/lm63.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene/lm63_scan.h"
#include "veilstop/base/units.h"

#define TYPE_C 1 /* LM-63: photometric type; 2 is B, 3 is A */

/* The first line: an identifier, or in the 1986 edition any text. */
static vs_status read_edition(vs_lm63_scanner *s, vs_lm63_edition *edition) {
    static const struct {
        const char *word;
        vs_lm63_edition edition;
    } known[] = {{"IESNA:LM-63-1986", VS_LM63_1986}, {"IESNA91", VS_LM63_1991},
                 {"IESNA:LM-63-1991", VS_LM63_1991}, {"IESNA:LM-63-1995", VS_LM63_1995},
                 {"IESNA:LM-63-2002", VS_LM63_2002}, {"IES:LM-63-2019", VS_LM63_2019}};
    vs_lm63_scanner ahead = *s;
    vs_lm63_slice line;
    *edition = VS_LM63_1986;
    if (!vs_lm63_next_line(&ahead, &line)) {
        return vs_lm63_refuse(s, 1, "must be an LM-63 file", vs_lm63_text("an empty file"));
    }
    for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
        if (vs_lm63_is_word(line, known[i].word)) {
            *edition = known[i].edition;
            *s = ahead;
            return VS_OK;
        }
    }
    if (vs_lm63_starts_with(line, "IESNA") || vs_lm63_starts_with(line, "IES:")) {
        return vs_lm63_refuse(
            s, 1,
            "must be IESNA91, IESNA:LM-63-1995, IESNA:LM-63-2002, IES:LM-63-2019, or "
            "text as in the edition of 1986",
            line);
    }
    return VS_OK; /* the line is text, or already TILT= */
}

/* Skips lines of text up to TILT=; *tilted: whether a tilt table follows. */
static vs_status read_tilt_line(vs_lm63_scanner *s, bool *tilted) {
    static const char right[] =
        "must be TILT=NONE or TILT=INCLUDE with the table in this file, not in another";
    vs_lm63_slice line;
    while (vs_lm63_next_line(s, &line)) {
        if (memchr(line.at, '\0', line.length)) {
            return vs_lm63_refuse(s, s->token_line, "must be text", vs_lm63_text("a zero byte"));
        }
        if (!vs_lm63_starts_with(line, "TILT=")) {
            continue;
        }
        *tilted = vs_lm63_is_word(line, "TILT=INCLUDE");
        return *tilted || vs_lm63_is_word(line, "TILT=NONE")
                   ? VS_OK
                   : vs_lm63_refuse(s, s->token_line, right, line);
    }
    return vs_lm63_refuse(s, s->line, "must have a line TILT=NONE or TILT=INCLUDE",
                          vs_lm63_text("the end of the file"));
}

/* A list of angles [degrees in the file, rad here], ascending, within 0 to most_deg. */
static vs_status read_angles(vs_lm63_scanner *s, const char *what, double most_deg, size_t count,
                             double *angle_rad) {
    double before = -1;
    char right[96];
    for (size_t i = 0; i < count; i++) {
        double degrees;
        vs_status status = vs_lm63_read_number(s, what, i + 1, &degrees);
        if (status != VS_OK) {
            return status;
        }
        if (!(degrees >= 0 && degrees <= most_deg && degrees > before)) {
            snprintf(right, sizeof right, "must rise from 0 to at most %g degrees: %s %zu",
                     most_deg, what, i + 1);
            return vs_lm63_refuse_number(s, right, degrees);
        }
        angle_rad[i] = degrees * VS_RAD_PER_DEG;
        before = degrees;
    }
    return VS_OK;
}

/* Non-negative numbers, times a factor: no more than any sun has, so that what comes of them stays a
 * number. */
static vs_status read_amounts(vs_lm63_scanner *s, const char *what, double factor, size_t count,
                              double *amount) {
    char right[96];
    for (size_t i = 0; i < count; i++) {
        vs_status status = vs_lm63_read_number(s, what, i + 1, &amount[i]);
        if (status != VS_OK) {
            return status;
        }
        if (!(amount[i] >= 0 && amount[i] * factor <= VS_LM63_CANDELA_MOST)) {
            snprintf(right, sizeof right, "must be 0 to %g with factors: %s %zu",
                     VS_LM63_CANDELA_MOST, what, i + 1);
            return vs_lm63_refuse_number(s, right, amount[i]);
        }
        amount[i] *= factor;
    }
    return VS_OK;
}

static vs_status read_tilt_table(vs_lm63_scanner *s, vs_lm63 *file) {
    int count;
    vs_status status = vs_lm63_read_count(s, "lamp-to-luminaire geometry", 1, 3,
                                          "must be 1, 2 or 3: how the lamp sits in the luminaire",
                                          &file->tilt_geometry);
    if (status == VS_OK) {
        status = vs_lm63_read_count(s, "number of tilt angles", 1, VS_LM63_TILTS_MAX,
                                    "must be 1 to 1000 tilt angles", &count);
    }
    if (status != VS_OK) {
        return status;
    }
    size_t n = (size_t)count;
    double *memory = calloc(2 * n, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    file->memory[0] = memory;
    file->tilt_count = n;
    file->tilt_rad = memory;
    file->tilt_factor = memory + n;
    status = read_angles(s, "tilt angle", 180, n, memory);
    if (status == VS_OK && memory[0] != 0) {
        return vs_lm63_refuse_number(s, "must be tilt angles that start at 0",
                                     memory[0] / VS_RAD_PER_DEG);
    }
    return status == VS_OK ? read_amounts(s, "tilt factor", 1, n, memory + n) : status;
}

/* The data between the tilt and the angles. */
typedef struct {
    int vertical, horizontal;
    double multiplier, ballast, ballast_lamp;
} figures;

static vs_status read_lamps(vs_lm63_scanner *s, vs_lm63 *file, figures *f) {
    int lamps;
    vs_status status = vs_lm63_read_count(s, "number of lamps", 1, 1000000,
                                          "must be a whole number of lamps, at least 1", &lamps);
    file->lamps = lamps;
    if (status == VS_OK) {
        status = vs_lm63_read_number(s, "lumens per lamp", 0, &file->lamp_lumens);
    }
    if (status != VS_OK) {
        return status;
    }
    file->absolute = file->lamp_lumens == -1;
    if (!file->absolute && !(file->lamp_lumens > 0)) {
        return vs_lm63_refuse_number(
            s, "must be lumens per lamp over 0, or -1 for absolute photometry", file->lamp_lumens);
    }
    file->lamp_lumens = file->absolute ? (double)NAN : file->lamp_lumens;
    status = vs_lm63_read_number(s, "candela multiplier", 0, &f->multiplier);
    if (status == VS_OK && !(f->multiplier > 0)) {
        return vs_lm63_refuse_number(s, "must be a candela multiplier over 0", f->multiplier);
    }
    return status;
}

static vs_status read_type(vs_lm63_scanner *s) {
    int type;
    vs_status status = vs_lm63_read_count(s, "photometric type", 1, 3,
                                          "must be photometric type 1, which is C", &type);
    if (status == VS_OK && type != TYPE_C) {
        return vs_lm63_refuse(
            s, s->token_line,
            "must be photometric type 1, which is C: ask the maker for a file of type C",
            vs_lm63_text(type == 2 ? "2, type B" : "3, type A"));
    }
    return status;
}

static vs_status read_counts(vs_lm63_scanner *s, figures *f) {
    vs_status status = vs_lm63_read_count(s, "number of vertical angles", 2, VS_LM63_VERTICAL_MAX,
                                          "must be 2 to 2000 vertical angles", &f->vertical);
    if (status == VS_OK) {
        status = vs_lm63_read_count(s, "number of horizontal angles", 1, VS_LM63_HORIZONTAL_MAX,
                                    "must be 1 to 4000 horizontal angles", &f->horizontal);
    }
    if (status == VS_OK && f->vertical * f->horizontal > VS_LM63_CANDELAS_MAX) {
        return vs_lm63_refuse_number(s, "must be at most 500000 candela values in all",
                                     (double)f->vertical * f->horizontal);
    }
    return status;
}

static vs_status read_opening(vs_lm63_scanner *s, vs_lm63 *file) {
    static const char *const what[] = {"width", "length", "height"};
    double *size_m[] = {&file->width_m, &file->length_m, &file->height_m};
    int units;
    vs_status status =
        vs_lm63_read_count(s, "units", 1, 2, "must be units 1 (feet) or 2 (metres)", &units);
    for (int i = 0; i < 3 && status == VS_OK; i++) {
        status = vs_lm63_read_number(s, what[i], 0, size_m[i]);
        *size_m[i] *= vs_length_unit_m(units == 1 ? VS_LENGTH_FT : VS_LENGTH_M);
    }
    return status;
}

static vs_status read_ballast(vs_lm63_scanner *s, vs_lm63 *file, figures *f) {
    bool lamp_factor = file->edition == VS_LM63_1986 || file->edition == VS_LM63_1991;
    vs_status status = vs_lm63_read_number(s, "ballast factor", 0, &f->ballast);
    if (status == VS_OK && !(f->ballast > 0)) {
        return vs_lm63_refuse_number(s, "must be a ballast factor over 0", f->ballast);
    }
    if (status == VS_OK) {
        status = vs_lm63_read_number(s,
                                     lamp_factor ? "ballast-lamp photometric factor"
                                                 : "the figure between ballast factor and watts",
                                     0, &f->ballast_lamp);
    }
    if (status == VS_OK && lamp_factor && !(f->ballast_lamp > 0)) {
        return vs_lm63_refuse_number(s, "must be a ballast-lamp photometric factor over 0",
                                     f->ballast_lamp);
    }
    f->ballast_lamp = lamp_factor ? f->ballast_lamp : 1;
    if (status == VS_OK) {
        status = vs_lm63_read_number(s, "input watts", 0, &file->input_watts);
    }
    if (status == VS_OK && !(file->input_watts >= 0)) {
        return vs_lm63_refuse_number(s, "must be input watts of at least 0", file->input_watts);
    }
    return status;
}

static vs_status read_figures(vs_lm63_scanner *s, vs_lm63 *file, figures *f) {
    vs_status status = read_lamps(s, file, f);
    if (status == VS_OK) {
        status = read_counts(s, f);
    }
    if (status == VS_OK) {
        status = read_type(s);
    }
    if (status == VS_OK) {
        status = read_opening(s, file);
    }
    if (status == VS_OK) {
        status = read_ballast(s, file, f);
    }
    file->candela_factor = f->multiplier * f->ballast * f->ballast_lamp;
    if (status == VS_OK && !isfinite(file->candela_factor)) {
        return vs_lm63_refuse_number(s, "must be factors whose product is a number",
                                     file->candela_factor);
    }
    return status;
}

static bool is_deg(double angle_rad, double degrees) {
    return fabs(angle_rad - degrees * VS_RAD_PER_DEG) < 1e-9;
}

static vs_status check_vertical(const vs_lm63_scanner *s, const double *v, size_t count) {
    double first = v[0], last = v[count - 1];
    if ((is_deg(first, 0) || is_deg(first, 90)) && (is_deg(last, 90) || is_deg(last, 180))) {
        return VS_OK;
    }
    char got[64];
    snprintf(got, sizeof got, "%g to %g", first / VS_RAD_PER_DEG, last / VS_RAD_PER_DEG);
    return vs_lm63_refuse(s, s->token_line, "must be vertical angles from 0 or 90 to 90 or 180",
                          vs_lm63_text(got));
}

/* A table from 90 to 270 must contain 180, so that it can be mirrored. */
static bool covers_half(const double *h, size_t count) {
    bool middle = false;
    for (size_t i = 0; i < count; i++) {
        middle = middle || is_deg(h[i], 180);
    }
    return middle && is_deg(h[0], 90) && is_deg(h[count - 1], 270);
}

static vs_status check_horizontal(const vs_lm63_scanner *s, const double *h, size_t count) {
    double last = h[count - 1];
    bool ends =
        count == 1 ? is_deg(last, 0) : is_deg(last, 90) || is_deg(last, 180) || is_deg(last, 360);
    if ((is_deg(h[0], 0) && ends) || (count > 1 && covers_half(h, count))) {
        return VS_OK;
    }
    char got[64];
    snprintf(got, sizeof got, "%g to %g", h[0] / VS_RAD_PER_DEG, last / VS_RAD_PER_DEG);
    return vs_lm63_refuse(
        s, s->token_line,
        "must be horizontal angles of 0, 0 to 90, 0 to 180, 0 to 360, or 90 to 270 with "
        "180 among them",
        vs_lm63_text(got));
}

/* The row of a table from 90 to 270 that becomes row `i` of the mirrored one. Before the table's
 * own rows come those from 180 down to 90 mirrored, at 180 - h; after them those from 270 down to
 * 180, at 540 - h. middle: the row at 180. */
static size_t opened_row(const vs_photometric_table *half, size_t middle, size_t i,
                         double *horizontal_rad) {
    size_t last = half->horizontal_count - 1;
    if (i < middle) {
        *horizontal_rad = VS_PI - half->horizontal_rad[middle - i];
        return middle - i;
    }
    size_t own = i - middle;
    if (own <= last) {
        *horizontal_rad = half->horizontal_rad[own];
        return own;
    }
    *horizontal_rad = 3 * VS_PI - half->horizontal_rad[2 * last - own];
    return 2 * last - own;
}

/* Mirrors a table from 90 to 270 to one from 0 to 360. */
static vs_status open_out(vs_lm63 *file) {
    const vs_photometric_table half = file->table;
    size_t nv = half.vertical_count, count = 2 * half.horizontal_count - 1, middle = 0;
    while (!is_deg(half.horizontal_rad[middle], 180)) {
        middle++;
    }
    double *memory = calloc(nv + count + count * nv, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    double *horizontal_rad = memory + nv, *candela = horizontal_rad + count;
    memcpy(memory, half.vertical_rad, nv * sizeof *memory);
    for (size_t i = 0; i < count; i++) {
        size_t row = opened_row(&half, middle, i, &horizontal_rad[i]);
        memcpy(candela + i * nv, half.candela + row * nv, nv * sizeof *candela);
    }
    free(file->memory[1]);
    file->memory[1] = memory;
    file->table = (vs_photometric_table){nv, count, memory, horizontal_rad, candela};
    return VS_OK;
}

static vs_status read_table(vs_lm63_scanner *s, vs_lm63 *file, const figures *f) {
    size_t nv = (size_t)f->vertical, nh = (size_t)f->horizontal;
    double *memory = calloc(nv + nh + nv * nh, sizeof *memory);
    if (!memory) {
        return VS_ERR_MEMORY;
    }
    double *h = memory + nv, *candela = h + nh;
    file->memory[1] = memory;
    file->table = (vs_photometric_table){nv, nh, memory, h, candela};
    vs_status status = read_angles(s, "vertical angle", 180, nv, memory);
    if (status == VS_OK) {
        status = check_vertical(s, memory, nv);
    }
    if (status == VS_OK) {
        status = read_angles(s, "horizontal angle", 360, nh, h);
    }
    if (status == VS_OK) {
        status = check_horizontal(s, h, nh);
    }
    if (status == VS_OK) {
        status = read_amounts(s, "candela value", file->candela_factor, nv * nh, candela);
    }
    return status == VS_OK && h[0] > 0 ? open_out(file) : status;
}

static vs_status read_end(vs_lm63_scanner *s, const figures *f) {
    vs_lm63_slice token;
    if (!vs_lm63_next_token(s, &token)) {
        return VS_OK;
    }
    char right[96];
    snprintf(right, sizeof right, "must be the end of the file after %d x %d candela values",
             f->vertical, f->horizontal);
    return vs_lm63_refuse(s, s->token_line, right, token);
}

static vs_status read_file(vs_lm63_scanner *s, vs_lm63 *file) {
    bool tilted = false;
    figures f = {0, 0, 1, 1, 1};
    vs_status status = read_edition(s, &file->edition);
    if (status == VS_OK) {
        status = read_tilt_line(s, &tilted);
    }
    if (status == VS_OK && tilted) {
        status = read_tilt_table(s, file);
    }
    if (status == VS_OK) {
        status = read_figures(s, file, &f);
    }
    if (status == VS_OK) {
        status = read_table(s, file, &f);
    }
    return status == VS_OK ? read_end(s, &f) : status;
}

vs_status vs_lm63_init(vs_lm63 *file, const char *bytes, size_t length, vs_faults *faults) {
    vs_lm63_scanner s = {bytes, bytes + length, 1, 1, faults};
    memset(file, 0, sizeof *file);
    if (length > VS_LM63_BYTES_MAX) {
        return vs_lm63_refuse(&s, 1, "must be a file of at most 4 MiB",
                              vs_lm63_text("a larger one"));
    }
    if (length >= 3 && memcmp(bytes, "\xef\xbb\xbf", 3) == 0) {
        s.at += 3;
    }
    vs_status status = read_file(&s, file);
    if (status != VS_OK) {
        vs_lm63_free(file);
    }
    return status;
}

void vs_lm63_free(vs_lm63 *file) {
    free(file->memory[0]);
    free(file->memory[1]);
    memset(file, 0, sizeof *file);
}

double vs_lm63_tilt_factor(const vs_lm63 *file, double tilt_rad) {
    const double *a = file->tilt_rad, *f = file->tilt_factor;
    if (file->tilt_count == 0) {
        return 1;
    }
    if (tilt_rad == a[0]) {
        return f[0];
    }
    for (size_t i = 1; i < file->tilt_count; i++) {
        if (tilt_rad <= a[i]) {
            return f[i - 1] + (f[i] - f[i - 1]) * (tilt_rad - a[i - 1]) / (a[i] - a[i - 1]);
        }
    }
    return NAN;
}
