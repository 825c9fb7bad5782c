/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The Common LUT Format file: a short chain of nodes, measured against the exact transform before
 * it is written. Source, also of the node equations: Academy S-2014-006 v3.0. */
#include "veilstop/report/clf_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "veilstop/report/xml.h"

#define ENTRIES      16384 /* of a table; the specification allows 65536: our choice */
#define AS_TEXT_(n)  #n
#define AS_TEXT(n)   AS_TEXT_(n)
#define NODE_ERROR   1e-5 /* [signal] up to this error a Log or Exponent node will do for the curve */
#define CHECK_POINTS 200003  /* signals at which a chain is measured: prime, off the grid */
#define DARKEST      1e-14   /* [1] scene-linear: below what 32-bit floats resolve beside a veil */
#define DARK_POINTS  10000   /* results near black that are checked, evenly in stops: our choice */
#define FLOAT_ROUND  0x1p-24 /* [1] rounding of 32-bit floats, with which tables are read */
#define SPREAD       8.0     /* [1] between the tables: x^(1/8), steep at black like every curve */

typedef enum { CHAIN_LINEAR, CHAIN_LOG, CHAIN_MONCURVE, CHAIN_TABLES } chain_kind;

typedef struct {
    chain_kind kind;
    const vs_curve *curve;
    vs_linear_grade grade;   /* of the Matrix node */
    vs_curve log;            /* LOG: the curve's constants */
    double *decode, *encode; /* TABLES: ENTRIES each */
} chain;

/* The upper part of a Log node: c log10(a x + b) + d. */
static double log_side(const vs_curve *k, double x) {
    return k->c * log10(k->a * x + k->b) + k->d;
}

/* The offset of its lower part, e x + offset: in the specification the two parts meet at the break,
 * where the curve itself may have a step. */
static double line_offset(const vs_curve *k) {
    return log_side(k, k->cut) - k->e * k->cut;
}

static double log_encode(const vs_curve *k, double x) {
    return x > k->cut ? log_side(k, x) : k->e * x + line_offset(k);
}

static double log_decode(const vs_curve *k, double y) {
    if (y <= log_side(k, k->cut)) {
        return (y - line_offset(k)) / k->e;
    }
    return (pow(10, (y - k->d) / k->c) - k->b) / k->a;
}

/* monCurve with sRGB's exponent and offset: the slope of its linear part, and where that ends. */
static double moncurve_slope(void) {
    double g = VS_SRGB_EXPONENT, k = VS_SRGB_OFFSET;
    return (g - 1) / k * pow(k * g / ((g - 1) * (1 + k)), g);
}

static double moncurve_decode(double x) {
    double g = VS_SRGB_EXPONENT, k = VS_SRGB_OFFSET;
    return x >= k / (g - 1) ? pow((x + k) / (1 + k), g) : x * moncurve_slope();
}

static double moncurve_encode(double y) {
    double g = VS_SRGB_EXPONENT, k = VS_SRGB_OFFSET;
    double bend = pow(k * g / ((g - 1) * (1 + k)), g);
    return y >= bend ? (1 + k) * pow(y, 1 / g) - k : y / moncurve_slope();
}

/* LUT1D: linear interpolation over 0..1, clamped at the ends. */
static double look_up(const double *table, double at) {
    double place = (at > 0 ? at < 1 ? at : 1 : 0) * (ENTRIES - 1);
    size_t below = (size_t)place;
    below = below < ENTRIES - 1 ? below : ENTRIES - 2;
    return table[below] + (place - (double)below) * (table[below + 1] - table[below]);
}

static double matrix(const chain *c, int band, double x) {
    return x * c->grade.slope.v[band] + c->grade.offset.v[band];
}

/* rounding: -1 to 1 times what 32-bit floats may lose in the Matrix before the tables, where the
 * small difference of two large numbers meets the steepest part of the curve. */
static double evaluate(const chain *c, int band, double signal, double rounding) {
    switch (c->kind) {
    case CHAIN_LOG:
        return log_encode(&c->log, matrix(c, band, log_decode(&c->log, signal)));
    case CHAIN_MONCURVE:
        return moncurve_encode(matrix(c, band, moncurve_decode(signal)));
    case CHAIN_TABLES: {
        double in = look_up(c->decode, signal);
        double lost =
            FLOAT_ROUND * (fabs(in * c->grade.slope.v[band]) + fabs(c->grade.offset.v[band]));
        double x = matrix(c, band, in) + rounding * lost;
        return look_up(c->encode, x > 0 ? pow(x, 1 / SPREAD) : 0);
    }
    default:
        return matrix(c, band, signal);
    }
}

static double hold(double signal) {
    return signal < 0 ? 0 : signal > 1 ? 1 : signal;
}

static double error_at(const chain *c, const vs_linear_grade *grade, int band, double signal) {
    double x = vs_curve_decode(c->curve, signal) * grade->slope.v[band] + grade->offset.v[band];
    double wanted = hold(vs_curve_encode(c->curve, x)), worst = 0;
    for (int rounding = -1; rounding <= 1; rounding++) {
        worst = fmax(worst, fabs(hold(evaluate(c, band, signal, rounding)) - wanted));
    }
    return worst;
}

/* Over evenly spaced signals, and over those whose result is near black, where curves are
 * steepest. */
static double worst_error(const chain *c, const vs_linear_grade *grade) {
    double worst = 0;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        for (int i = 0; i <= CHECK_POINTS; i++) {
            worst = fmax(worst, error_at(c, grade, band, (double)i / CHECK_POINTS));
        }
        for (int i = 0; i <= DARK_POINTS; i++) {
            double dark = i < DARK_POINTS ? pow(DARKEST, (double)i / DARK_POINTS) : 0;
            double x = (dark - grade->offset.v[band]) / grade->slope.v[band];
            double signal = hold(vs_curve_encode(c->curve, x));
            worst = fmax(worst, error_at(c, grade, band, signal));
        }
    }
    return worst;
}

/* Two tables: signal to x, and ((x - bottom)/(top - bottom))^(1/8) to signal. The Matrix absorbs
 * the shift and scale between them. */
static vs_status make_tables(chain *c, const vs_linear_grade *grade) {
    c->kind = CHAIN_TABLES;
    c->decode = malloc(ENTRIES * sizeof *c->decode);
    c->encode = malloc(ENTRIES * sizeof *c->encode);
    if (!c->decode || !c->encode) {
        return VS_ERR_MEMORY;
    }
    double bottom = vs_curve_decode(c->curve, 0);
    double height = vs_curve_top(c->curve) - bottom;
    for (size_t i = 0; i < ENTRIES; i++) {
        double at = (double)i / (ENTRIES - 1);
        c->decode[i] = vs_curve_decode(c->curve, at);
        c->encode[i] = vs_curve_encode(c->curve, bottom + height * pow(at, SPREAD));
    }
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        c->grade.slope.v[band] = grade->slope.v[band] / height;
        c->grade.offset.v[band] = (grade->offset.v[band] - bottom) / height;
    }
    return VS_OK;
}

/* The chain that represents a curve exactly, if there is one. */
#define CHAIN(member, name, encode, decode, node) CHAIN_##node,
static const chain_kind chain_of[] = {VS_CURVE_LIST(CHAIN)[VS_CURVE_LOG] = CHAIN_LOG};

/* The chain of nodes if that is close enough, otherwise tables. */
static vs_status make_chain(chain *c, const vs_linear_grade *grade, double *error) {
    c->kind = chain_of[c->curve->kind];
    if (c->kind == CHAIN_LOG && vs_curve_as_log(c->curve, &c->log) != VS_OK) {
        c->kind = CHAIN_TABLES;
    }
    c->grade = *grade;
    if (c->kind != CHAIN_TABLES) {
        *error = worst_error(c, grade);
        if (*error <= NODE_ERROR) {
            return VS_OK;
        }
    }
    vs_status status = make_tables(c, grade);
    *error = status == VS_OK ? worst_error(c, grade) : (double)NAN;
    return status;
}

static void open_node(vs_xml *xml, const char *name, const char *style) {
    vs_xml_open(xml, name);
    vs_xml_attribute(xml, "inBitDepth", "32f");
    vs_xml_attribute(xml, "outBitDepth", "32f");
    if (style) {
        vs_xml_attribute(xml, "style", style);
    }
}

static void add_log(vs_xml *xml, const vs_curve *k, const char *style) {
    open_node(xml, "Log", style);
    vs_xml_open(xml, "LogParams");
    vs_xml_attribute_number(xml, "base", 10);
    vs_xml_attribute_number(xml, "logSideSlope", k->c);
    vs_xml_attribute_number(xml, "logSideOffset", k->d);
    vs_xml_attribute_number(xml, "linSideSlope", k->a);
    vs_xml_attribute_number(xml, "linSideOffset", k->b);
    vs_xml_attribute_number(xml, "linSideBreak", k->cut);
    vs_xml_attribute_number(xml, "linearSlope", k->e);
    vs_xml_close(xml);
    vs_xml_close(xml);
}

static void add_exponent(vs_xml *xml, const char *style, double exponent, double offset) {
    open_node(xml, "Exponent", style);
    vs_xml_open(xml, "ExponentParams");
    vs_xml_attribute_number(xml, "exponent", exponent);
    if (offset > 0) {
        vs_xml_attribute_number(xml, "offset", offset);
    }
    vs_xml_close(xml);
    vs_xml_close(xml);
}

static void add_table(vs_xml *xml, const double *table) {
    open_node(xml, "LUT1D", NULL);
    vs_xml_open(xml, "Array");
    vs_xml_attribute(xml, "dim", AS_TEXT(ENTRIES) " 1");
    for (size_t i = 0; i < ENTRIES; i++) {
        vs_xml_row(xml, &table[i], 1, 10);
    }
    vs_xml_close(xml);
    vs_xml_close(xml);
}

static void add_matrix(vs_xml *xml, const vs_linear_grade *grade) {
    open_node(xml, "Matrix", NULL);
    vs_xml_open(xml, "Array");
    vs_xml_attribute(xml, "dim", "3 4");
    for (size_t row = 0; row < VS_BAND_COUNT; row++) {
        double entry[4] = {0, 0, 0, grade->offset.v[row]};
        entry[row] = grade->slope.v[row];
        vs_xml_row(xml, entry, 4, 15);
    }
    vs_xml_close(xml);
    vs_xml_close(xml);
}

static void add_nodes(vs_xml *xml, const chain *c) {
    switch (c->kind) {
    case CHAIN_LOG:
        add_log(xml, &c->log, "cameraLogToLin");
        add_matrix(xml, &c->grade);
        add_log(xml, &c->log, "cameraLinToLog");
        break;
    case CHAIN_MONCURVE:
        add_exponent(xml, "monCurveFwd", VS_SRGB_EXPONENT, VS_SRGB_OFFSET);
        add_matrix(xml, &c->grade);
        add_exponent(xml, "monCurveRev", VS_SRGB_EXPONENT, VS_SRGB_OFFSET);
        break;
    case CHAIN_TABLES:
        add_table(xml, c->decode);
        add_matrix(xml, &c->grade);
        add_exponent(xml, "basicRev", SPREAD, 0);
        add_table(xml, c->encode);
        break;
    default:
        add_matrix(xml, &c->grade);
        break;
    }
}

/* Opens the process list and writes its head; the caller closes it. */
static void open_list(vs_xml *xml, vs_text *out, const vs_curve *curve, const char *id,
                      const char *description) {
    vs_xml_begin(xml, out);
    vs_xml_open(xml, "ProcessList");
    vs_xml_attribute(xml, "xmlns", "urn:AMPAS:CLF:v3.0");
    vs_xml_attribute(xml, "id", id);
    vs_xml_attribute(xml, "compCLFversion", "3.0");
    vs_xml_element(xml, "Description", description);
    vs_xml_element(xml, "InputDescriptor", vs_curve_name(curve));
    vs_xml_element(xml, "OutputDescriptor", vs_curve_name(curve));
}

static void add_file(vs_text *out, const chain *c, const char *id, const char *description,
                     double error) {
    vs_text line;
    vs_text_init(&line);
    vs_text_addf(&line, "%s; within %.1e of the exact signal%s", description, error,
                 c->kind == CHAIN_TABLES ? " (1D tables)" : "");
    vs_xml xml;
    open_list(&xml, out, c->curve, id, vs_text_words(&line, out));
    add_nodes(&xml, c);
    vs_xml_close(&xml);
    vs_text_free(&line);
}

void vs_clf_matrix_file(vs_text *out, const vs_curve *curve, const double matrix[3][4],
                        const char *id, const char *description) {
    vs_xml xml;
    open_list(&xml, out, curve, id, description);
    open_node(&xml, "Matrix", NULL);
    vs_xml_open(&xml, "Array");
    vs_xml_attribute(&xml, "dim", "3 4");
    for (size_t row = 0; row < VS_BAND_COUNT; row++) {
        vs_xml_row(&xml, matrix[row], 4, 15);
    }
    vs_xml_close(&xml);
    vs_xml_close(&xml);
    vs_xml_close(&xml);
}

vs_status vs_clf_file(vs_text *out, const vs_curve *curve, const vs_linear_grade *grade,
                      const char *id, const char *description, vs_clf_promise *promise) {
    memset(promise, 0, sizeof *promise);
    promise->error = NAN;
    for (int band = 0; band < VS_BAND_COUNT; band++) {
        double slope = grade->slope.v[band];
        if (!(slope > 0 && isfinite(slope) && isfinite(grade->offset.v[band]))) {
            return VS_ERR_DOMAIN;
        }
    }
    if (vs_curve_check(curve) != VS_OK) {
        return VS_ERR_DOMAIN;
    }
    chain c = {.curve = curve};
    vs_status status = make_chain(&c, grade, &promise->error);
    if (status == VS_OK) {
        promise->table = c.kind == CHAIN_TABLES;
        add_file(out, &c, id, description, promise->error);
        status = out->failed ? VS_ERR_MEMORY : VS_OK;
    }
    free(c.decode);
    free(c.encode);
    return status;
}
