/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writes XML 1.0 into a vs_text, for files that other tools read: elements, attributes, text.
 * Source: W3C XML 1.0 (fifth edition), sections 2.2 to 2.4. Read back in the tests by libxml2. */
#ifndef VEILSTOP_REPORT_XML_H
#define VEILSTOP_REPORT_XML_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/report/text.h"

#ifdef __cplusplus
extern "C" {
#endif

#define VS_XML_DEPTH_MAX 8 /* elements open at once: our choice */

typedef struct {
    vs_text *out;
    const char *open[VS_XML_DEPTH_MAX]; /* names of the open elements, borrowed */
    size_t depth;
    bool in_tag;  /* the last opened element still takes attributes */
    bool in_line; /* the last opened element holds text: it closes on the same line */
} vs_xml;

/** Starts a document: the declaration. */
void vs_xml_begin(vs_xml *xml, vs_text *out);

/** name  an XML name, borrowed until the element is closed; at most VS_XML_DEPTH_MAX deep */
void vs_xml_open(vs_xml *xml, const char *name);
void vs_xml_close(vs_xml *xml);

/** An attribute of the element just opened, before any text. Text is UTF-8; what XML forbids
 *  (invalid bytes, control characters) is written as U+FFFD. */
void vs_xml_attribute(vs_xml *xml, const char *name, const char *text);
void vs_xml_attribute_number(vs_xml *xml, const char *name, double value);

/** Numbers separated by spaces; finite.  digits  significant ones, 1 to 17 */
void vs_xml_numbers(vs_xml *xml, const double *value, size_t count, int digits);
/** The same on a line of its own, for tables. */
void vs_xml_row(vs_xml *xml, const double *value, size_t count, int digits);

/** An element that holds only text. */
void vs_xml_element(vs_xml *xml, const char *name, const char *text);

#ifdef __cplusplus
}
#endif
#endif
