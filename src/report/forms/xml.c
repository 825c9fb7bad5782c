/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The XML writer: a dozen rules of XML 1.0, and indents of two spaces. */
#include "veilstop/report/xml.h"

#include <string.h>

#include "veilstop/base/utf8.h"

static void add(vs_xml *xml, const char *text) {
    vs_text_add(xml->out, text, strlen(text));
}

void vs_xml_begin(vs_xml *xml, vs_text *out) {
    memset(xml, 0, sizeof *xml);
    xml->out = out;
    add(xml, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
}

static void end_tag_start(vs_xml *xml) {
    if (xml->in_tag) {
        add(xml, ">");
        xml->in_tag = false;
    }
}

static void new_line(vs_xml *xml) {
    if (xml->depth > 0) {
        add(xml, "\n");
    }
    for (size_t i = 0; i < xml->depth; i++) {
        add(xml, "  ");
    }
}

void vs_xml_open(vs_xml *xml, const char *name) {
    end_tag_start(xml);
    new_line(xml);
    vs_text_addf(xml->out, "<%s", name);
    xml->in_tag = true;
    xml->in_line = false;
    if (xml->depth < VS_XML_DEPTH_MAX) {
        xml->open[xml->depth++] = name;
    } else {
        xml->out->failed = true;
    }
}

void vs_xml_close(vs_xml *xml) {
    if (xml->depth == 0) {
        return;
    }
    const char *name = xml->open[--xml->depth];
    if (xml->in_tag) {
        add(xml, "/>");
    } else {
        if (!xml->in_line) {
            add(xml, "\n");
            for (size_t i = 0; i < xml->depth; i++) {
                add(xml, "  ");
            }
        }
        vs_text_addf(xml->out, "</%s>", name);
    }
    xml->in_tag = false;
    xml->in_line = false;
    if (xml->depth == 0) {
        add(xml, "\n");
    }
}

/* XML 1.0, 2.2: tab and line ends are the only control characters allowed; U+FFFE and U+FFFF are
 * not characters. */
static bool forbidden(const unsigned char *c, size_t length) {
    bool noncharacter = length == 3 && c[0] == 0xef && c[1] == 0xbf && c[2] >= 0xbe;
    return length == 0 || noncharacter || (c[0] < 0x20 && c[0] != '\t' && c[0] != '\n');
}

static void add_escaped(vs_xml *xml, const char *text, bool attribute) {
    for (const char *c = text; *c;) {
        size_t length = vs_utf8_character(c);
        if (forbidden((const unsigned char *)c, length)) {
            add(xml, "\xef\xbf\xbd");
        } else if (*c == '&') {
            add(xml, "&amp;");
        } else if (*c == '<') {
            add(xml, "&lt;");
        } else if (*c == '>') {
            add(xml, "&gt;");
        } else if (attribute && (*c == '"' || *c == '\n' || *c == '\t')) {
            vs_text_addf(xml->out, "&#%d;", *c); /* 3.3.3: readers normalise them to blanks */
        } else {
            vs_text_add(xml->out, c, length);
        }
        c += length ? length : 1;
    }
}

void vs_xml_attribute(vs_xml *xml, const char *name, const char *text) {
    vs_text_addf(xml->out, " %s=\"", name);
    add_escaped(xml, text, true);
    add(xml, "\"");
}

void vs_xml_attribute_number(vs_xml *xml, const char *name, double value) {
    vs_text_addf(xml->out, " %s=\"%.15g\"", name, value);
}

static void add_text(vs_xml *xml, const char *text) {
    end_tag_start(xml);
    add_escaped(xml, text, false);
    xml->in_line = true;
}

void vs_xml_numbers(vs_xml *xml, const double *value, size_t count, int digits) {
    end_tag_start(xml);
    for (size_t i = 0; i < count; i++) {
        vs_text_addf(xml->out, "%s%.*g", i > 0 ? " " : "", digits, value[i]);
    }
    xml->in_line = true;
}

void vs_xml_row(vs_xml *xml, const double *value, size_t count, int digits) {
    end_tag_start(xml);
    add(xml, "\n");
    vs_xml_numbers(xml, value, count, digits);
    xml->in_line = false;
}

void vs_xml_element(vs_xml *xml, const char *name, const char *text) {
    vs_xml_open(xml, name);
    add_text(xml, text);
    vs_xml_close(xml);
}
