/* SPDX-License-Identifier: GPL-3.0-or-later */
/* report/cdl_file, clf_file, xml: files are parsed by libxml2 and evaluated here by the equations
 * of Academy S-2014-006 v3.0 and ASC CDL 1.2, written apart from the program's own. */
#include "check.h"

#include <float.h>
#include <libxml/parser.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "parts.h"
#include "veilstop/report/cdl_file.h"
#include "veilstop/report/clf_file.h"
#include "veilstop/report/xml.h"

static xmlDocPtr parse(const vs_text *text) {
    CHECK_TRUE(!text->failed);
    xmlDocPtr doc = xmlReadMemory(text->bytes, (int)text->length, "file", NULL, XML_PARSE_NONET);
    CHECK_TRUE(doc != NULL);
    return doc;
}

static bool is(const xmlNode *node, const char *name) {
    return node->type == XML_ELEMENT_NODE && strcmp((const char *)node->name, name) == 0;
}

static xmlNode *child(xmlNode *parent, const char *name) {
    for (xmlNode *n = parent->children; n; n = n->next) {
        if (is(n, name)) {
            return n;
        }
    }
    fail_msg("no element %s in %s", name, (const char *)parent->name);
    return NULL;
}

/* An attribute's text; "" where it is absent. In a static buffer. */
static const char *attribute(xmlNode *node, const char *name) {
    static char text[128];
    xmlChar *value = xmlGetProp(node, (const xmlChar *)name);
    snprintf(text, sizeof text, "%s", value ? (const char *)value : "");
    xmlFree(value);
    return text;
}

static double number(xmlNode *node, const char *name) {
    const char *text = attribute(node, name);
    char *end;
    double value = strtod(text, &end);
    CHECK_TRUE(end != text && *end == '\0');
    return value;
}

/* The numbers in an element's text; fails unless there are exactly `count`. Caller frees. */
static double *numbers(xmlNode *node, size_t count) {
    xmlChar *text = xmlNodeGetContent(node);
    double *value = calloc(count, sizeof *value);
    char *at = (char *)text, *end;
    for (size_t i = 0; i < count; i++) {
        value[i] = strtod(at, &end);
        CHECK_TRUE(end != at);
        at = end;
    }
    CHECK_TRUE(at[strspn(at, " \n\t")] == '\0');
    xmlFree(text);
    return value;
}

/* ---- a Common LUT Format evaluator, by the specification ---- */

typedef struct {
    char kind[128], style[128];
    double p[8];
    double *array;
    size_t rows;
} clf_node;

typedef struct {
    clf_node node[8];
    size_t count;
} clf;

static clf_node read_node(xmlNode *element) {
    clf_node n = {0};
    snprintf(n.kind, sizeof n.kind, "%s", (const char *)element->name);
    snprintf(n.style, sizeof n.style, "%s", attribute(element, "style"));
    CHECK_TRUE(strcmp(attribute(element, "inBitDepth"), "32f") == 0);
    CHECK_TRUE(strcmp(attribute(element, "outBitDepth"), "32f") == 0);
    if (is(element, "Log")) {
        static const char *const name[] = {"base",         "logSideSlope",  "logSideOffset",
                                           "linSideSlope", "linSideOffset", "linSideBreak",
                                           "linearSlope"};
        for (size_t i = 0; i < 7; i++) {
            n.p[i] = number(child(element, "LogParams"), name[i]);
        }
    } else if (is(element, "Exponent")) {
        xmlNode *params = child(element, "ExponentParams");
        n.p[0] = number(params, "exponent");
        n.p[1] = *attribute(params, "offset") ? number(params, "offset") : 0;
    } else {
        xmlNode *array = child(element, "Array");
        size_t rows, columns;
        CHECK_TRUE(sscanf(attribute(array, "dim"), "%zu %zu", &rows, &columns) == 2);
        n.rows = rows;
        n.array = numbers(array, rows * columns);
        CHECK_TRUE(is(element, "Matrix") ? rows == 3 && columns == 4
                                         : is(element, "LUT1D") && columns == 1 && rows <= 65536);
    }
    return n;
}

static clf read_clf(const vs_text *text) {
    xmlDocPtr doc = parse(text);
    xmlNode *list = xmlDocGetRootElement(doc);
    CHECK_TRUE(is(list, "ProcessList"));
    CHECK_TRUE(*attribute(list, "id") != '\0');
    CHECK_TRUE(strcmp(attribute(list, "compCLFversion"), "3.0") == 0);
    clf out = {0};
    for (xmlNode *n = list->children; n; n = n->next) {
        if (n->type == XML_ELEMENT_NODE && !is(n, "Description") && !is(n, "InputDescriptor") &&
            !is(n, "OutputDescriptor")) {
            CHECK_TRUE(out.count < 8);
            out.node[out.count++] = read_node(n);
        }
    }
    xmlFreeDoc(doc);
    return out;
}

static void clf_free(clf *file) {
    for (size_t i = 0; i < file->count; i++) {
        free(file->node[i].array);
    }
}

static double evaluate_log(const clf_node *n, double v) {
    double base = n->p[0], s = n->p[1], o = n->p[2], ls = n->p[3], lo = n->p[4], cut = n->p[5];
    double at_cut = s * log(ls * cut + lo) / log(base) + o;
    double offset = at_cut - n->p[6] * cut;
    if (strcmp(n->style, "cameraLinToLog") == 0) {
        return v <= cut ? n->p[6] * v + offset
                        : s * log(fmax(ls * v + lo, FLT_MIN)) / log(base) + o;
    }
    CHECK_TRUE(strcmp(n->style, "cameraLogToLin") == 0);
    return v <= at_cut ? (v - offset) / n->p[6] : (pow(base, (v - o) / s) - lo) / ls;
}

static double evaluate_exponent(const clf_node *n, double v) {
    double g = n->p[0], k = n->p[1];
    if (strcmp(n->style, "basicRev") == 0) {
        return pow(fmax(0, v), 1 / g);
    }
    double slope = (g - 1) / k * pow(k * g / ((g - 1) * (1 + k)), g);
    if (strcmp(n->style, "monCurveFwd") == 0) {
        return v >= k / (g - 1) ? pow((v + k) / (1 + k), g) : v * slope;
    }
    CHECK_TRUE(strcmp(n->style, "monCurveRev") == 0);
    return v >= pow(k * g / ((g - 1) * (1 + k)), g) ? (1 + k) * pow(v, 1 / g) - k : v / slope;
}

static double evaluate_table(const clf_node *n, double v) {
    double at = fmin(fmax(v, 0), 1) * (double)(n->rows - 1);
    size_t i = (size_t)floor(at);
    return i + 1 < n->rows
               ? n->array[i] * (1 - (at - (double)i)) + n->array[i + 1] * (at - (double)i)
               : n->array[n->rows - 1];
}

static void evaluate(const clf *file, double rgb[3]) {
    for (size_t i = 0; i < file->count; i++) {
        const clf_node *n = &file->node[i];
        double out[3];
        for (int c = 0; c < 3; c++) {
            const double *row = n->array + 4 * c;
            out[c] = n->kind[0] == 'M'
                         ? row[0] * rgb[0] + row[1] * rgb[1] + row[2] * rgb[2] + row[3]
                     : strcmp(n->kind, "Log") == 0      ? evaluate_log(n, rgb[c])
                     : strcmp(n->kind, "Exponent") == 0 ? evaluate_exponent(n, rgb[c])
                                                        : evaluate_table(n, rgb[c]);
        }
        memcpy(rgb, out, sizeof out);
    }
}

/* Eight digits of each number: the rounding is below any signal's step. */
static void cdl_numbers_are_written_with_eight_digits(void **state) {
    (void)state;
    const vs_cdl cdl = {{{1.23456789, 0.98765432, 1.00000012}},
                        {{-0.012345678, 0.000012345, 0.087654321}},
                        {{1.11111111, 0.77777777, 1.00002468}},
                        1.04938271};
    vs_text text;
    vs_text_init(&text);
    vs_cdl_file(&text, &cdl, "digits", "a grade of many digits");
    xmlDocPtr doc = parse(&text);
    xmlNode *root = xmlDocGetRootElement(doc), *sop = child(root, "SOPNode");
    double *got[3] = {numbers(child(sop, "Slope"), 3), numbers(child(sop, "Offset"), 3),
                      numbers(child(sop, "Power"), 3)};
    double *saturation = numbers(child(child(root, "SatNode"), "Saturation"), 1);
    for (int c = 0; c < 3; c++) {
        CHECK_NEAR(got[0][c], cdl.slope.v[c], 5e-8, 0);
        CHECK_NEAR(got[1][c], cdl.offset.v[c], 5e-8, 0);
        CHECK_NEAR(got[2][c], cdl.power.v[c], 5e-8, 0);
    }
    for (int i = 0; i < 3; i++) {
        free(got[i]);
    }
    CHECK_NEAR(*saturation, cdl.saturation, 5e-8, 0);
    free(saturation);
    xmlFreeDoc(doc);
    vs_text_free(&text);
}

static const vs_depth haze = {{{0.78, 0.75, 0.7}}, {{0.010, 0.012, 0.015}}};

/* A veil laid over clear light by the curve's own formula, undone by the file alone. */
static double worst_undone(const vs_curve *curve, const vs_text *text) {
    clf file = read_clf(text);
    random_stream r = {5};
    double worst = 0;
    for (int i = 0; i < 3000; i++) {
        double rgb[3], want[3];
        for (int c = 0; c < 3; c++) {
            double most = (vs_curve_top(curve) - haze.veil.v[c]) / haze.transmission.v[c];
            double x = random_log_uniform(&r, 1e-6, fmin(most, vs_curve_top(curve)));
            rgb[c] = vs_curve_encode(curve, x * haze.transmission.v[c] + haze.veil.v[c]);
            want[c] = vs_curve_encode(curve, x);
        }
        evaluate(&file, rgb);
        for (int c = 0; c < 3; c++) {
            worst = fmax(worst, fabs(rgb[c] - want[c]));
        }
    }
    clf_free(&file);
    return worst;
}

static void clf_undoes_a_veil_in_every_curve(void **state) {
    (void)state;
    vs_curve curve[] = {{.kind = VS_CURVE_LINEAR}, {.kind = VS_CURVE_BT709},
                        {.kind = VS_CURVE_SRGB},   {.kind = VS_CURVE_ACESCCT},
                        {.kind = VS_CURVE_HLG},    {.kind = VS_CURVE_PQ},
                        parts_log_curve,           parts_log_curve};
    curve[7].f -= 2e-4; /* a step at the break, as printed constants have: no Log node has one */
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(&haze, 1, &grade));
    for (size_t i = 0; i < sizeof curve / sizeof curve[0]; i++) {
        vs_text text;
        vs_text_init(&text);
        vs_clf_promise promise;
        CHECK_OK(vs_clf_file(&text, &curve[i], &grade, "id", "undoes the haze", &promise));
        double worst = worst_undone(&curve[i], &text);
        printf("measured: CLF in %s (%s, %zu kB): undoes a veil within %.1e of the signal, stated "
               "%.1e\n",
               vs_curve_name(&curve[i]), promise.table ? "tables" : "nodes", text.length / 1000,
               worst, promise.error);
        CHECK_TRUE(worst <= 1.01 * promise.error + 1e-12);
        CHECK_TRUE(promise.table || worst <= 1e-5);
        CHECK_TRUE(promise.error < 4e-4);
        CHECK_TRUE(promise.table == (i == 1 || i == 4 || i == 5 || i == 7));
        vs_text_free(&text);
    }
}

static void clf_says_how_exact_it_is(void **state) {
    (void)state;
    vs_linear_grade grade;
    CHECK_OK(vs_grade_undo(&haze, 0.5, &grade));
    vs_curve pq = {.kind = VS_CURVE_PQ};
    vs_text text;
    vs_text_init(&text);
    vs_clf_promise promise;
    CHECK_OK(vs_clf_file(&text, &pq, &grade, "a & b", "half of <it>", &promise));
    xmlDocPtr doc = parse(&text);
    xmlNode *list = xmlDocGetRootElement(doc);
    char stated[64];
    snprintf(stated, sizeof stated, "half of <it>; within %.1e of", promise.error);
    xmlChar *description = xmlNodeGetContent(child(list, "Description"));
    CHECK_TRUE(strstr((const char *)description, stated) != NULL);
    CHECK_TRUE(strcmp(attribute(list, "id"), "a & b") == 0);
    CHECK_TRUE(strcmp((const char *)list->ns->href, "urn:AMPAS:CLF:v3.0") == 0);
    xmlFree(description);
    xmlFreeDoc(doc);
    vs_text_free(&text);
    grade.slope.v[1] = 0;
    CHECK_STATUS(vs_clf_file(&text, &pq, &grade, "i", "d", &promise), VS_ERR_DOMAIN);
    CHECK_NAN(promise.error);
    CHECK_TRUE(text.length == 0);
}

/* ASC CDL 1.2, once more apart from the library. */
static void evaluate_cdl(const double *slope, const double *offset, const double *power,
                         double saturation, double rgb[3]) {
    double luma = 0;
    const double weight[3] = {0.2126, 0.7152, 0.0722};
    for (int c = 0; c < 3; c++) {
        rgb[c] = pow(fmin(1, fmax(0, rgb[c] * slope[c] + offset[c])), power[c]);
        luma += weight[c] * rgb[c];
    }
    for (int c = 0; c < 3; c++) {
        rgb[c] = fmin(1, fmax(0, luma + saturation * (rgb[c] - luma)));
    }
}

static void cdl_file_undoes_a_veil_to_its_stated_error(void **state) {
    (void)state;
    vs_camera camera = parts_camera(VS_CURVE_ACESCCT);
    vs_grade_cdl fit;
    CHECK_OK(vs_grade_fit_cdl(&camera, &haze, 1, 0.18 / 32, 2, &fit));
    vs_text text;
    vs_text_init(&text);
    vs_cdl_file(&text, &fit.cdl, "1 wide/far wall", "undoes haze");
    xmlDocPtr doc = parse(&text);
    xmlNode *root = xmlDocGetRootElement(doc);
    CHECK_TRUE(is(root, "ColorCorrection"));
    CHECK_TRUE(strcmp((const char *)root->ns->href, "urn:ASC:CDL:v1.2") == 0);
    CHECK_TRUE(strcmp(attribute(root, "id"), "1 wide/far wall") == 0);
    xmlNode *sop = child(root, "SOPNode");
    double *slope = numbers(child(sop, "Slope"), 3), *offset = numbers(child(sop, "Offset"), 3);
    double *power = numbers(child(sop, "Power"), 3);
    double *saturation = numbers(child(child(root, "SatNode"), "Saturation"), 1);
    double worst = 0, e = 0.18 / 256;
    random_stream r = {6};
    for (int i = 0; i < 400; i++) {
        double x = random_log_uniform(&r, fit.low, fit.high), rgb[3];
        for (int c = 0; c < 3; c++) {
            rgb[c] = vs_curve_encode(&camera.curve, x * haze.transmission.v[c] + haze.veil.v[c]);
        }
        evaluate_cdl(slope, offset, power, *saturation, rgb);
        for (int c = 0; c < 3; c++) {
            double got = fmax(0, vs_curve_decode(&camera.curve, rgb[c]));
            worst = fmax(worst, fabs(log2((got + e) / (x + e))));
        }
    }
    CHECK_TRUE(worst <= 1.01 * fit.worst_stops);
    printf("measured: CDL file in acescct: undoes a veil within %.3f stops, stated %.3f\n", worst,
           fit.worst_stops);
    free(slope);
    free(offset);
    free(power);
    free(saturation);
    xmlFreeDoc(doc);
    vs_text_free(&text);
}

static void xml_survives_any_text(void **state) {
    (void)state;
    vs_text text;
    vs_text_init(&text);
    vs_xml xml;
    vs_xml_begin(&xml, &text);
    vs_xml_open(&xml, "a");
    vs_xml_attribute(&xml, "id", "\"<&>\n\t\xff\x01 Küche");
    vs_xml_element(&xml, "b", "]]> & <\x02\xc3 \xef\xbf\xbf ü");
    vs_xml_open(&xml, "c");
    vs_xml_close(&xml);
    vs_xml_close(&xml);
    xmlDocPtr doc = parse(&text);
    xmlNode *root = xmlDocGetRootElement(doc);
    CHECK_TRUE(strcmp(attribute(root, "id"), "\"<&>\n\t\xef\xbf\xbd\xef\xbf\xbd Küche") == 0);
    xmlChar *b = xmlNodeGetContent(child(root, "b"));
    CHECK_TRUE(strcmp((const char *)b, "]]> & <\xef\xbf\xbd\xef\xbf\xbd \xef\xbf\xbd ü") == 0);
    xmlFree(b);
    CHECK_TRUE(child(root, "c")->children == NULL);
    xmlFreeDoc(doc);
    vs_text_free(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(clf_undoes_a_veil_in_every_curve),
        cmocka_unit_test(clf_says_how_exact_it_is),
        cmocka_unit_test(cdl_numbers_are_written_with_eight_digits),
        cmocka_unit_test(cdl_file_undoes_a_veil_to_its_stated_error),
        cmocka_unit_test(xml_survives_any_text),
    };
    int failed = RUN_TESTS(tests);
    xmlCleanupParser();
    return failed;
}
