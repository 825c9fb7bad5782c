/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The ColorCorrection file. */
#include "veilstop/report/cdl_file.h"

#include "veilstop/report/xml.h"

#define DIGITS 8 /* a step of 1e-8 is beyond any signal */

static void add_numbers(vs_xml *xml, const char *name, const double *value, size_t count) {
    vs_xml_open(xml, name);
    vs_xml_numbers(xml, value, count, DIGITS);
    vs_xml_close(xml);
}

void vs_cdl_file(vs_text *out, const vs_cdl *cdl, const char *id, const char *description) {
    vs_xml xml;
    vs_xml_begin(&xml, out);
    vs_xml_open(&xml, "ColorCorrection");
    vs_xml_attribute(&xml, "xmlns", "urn:ASC:CDL:v1.2");
    vs_xml_attribute(&xml, "id", id);
    vs_xml_element(&xml, "Description", description);
    vs_xml_open(&xml, "SOPNode");
    add_numbers(&xml, "Slope", cdl->slope.v, VS_BAND_COUNT);
    add_numbers(&xml, "Offset", cdl->offset.v, VS_BAND_COUNT);
    add_numbers(&xml, "Power", cdl->power.v, VS_BAND_COUNT);
    vs_xml_close(&xml);
    vs_xml_open(&xml, "SatNode");
    add_numbers(&xml, "Saturation", &cdl->saturation, 1);
    vs_xml_close(&xml);
    vs_xml_close(&xml);
}
