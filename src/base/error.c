/* The fault list: bounded, one line each, whatever bytes a user's file put into it. */
#include "veilstop/base/error.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

/* Bytes below 0x20 and DEL would break the line or drive the terminal. */
static void blank_controls(char *text) {
    for (unsigned char *c = (unsigned char *)text; *c; c++) {
        if (*c < 0x20 || *c == 0x7f) {
            *c = ' ';
        }
    }
}

/* snprintf may cut inside a multi-byte character: drop what is left of it. */
static void trim_partial_utf8(char *text) {
    size_t length = strlen(text);
    size_t start = length;
    while (start > 0 && ((unsigned char)text[start - 1] & 0xc0) == 0x80) {
        start--;
    }
    if (start == 0) {
        return;
    }
    unsigned char lead = (unsigned char)text[start - 1];
    size_t need = lead >= 0xf0 ? 4 : lead >= 0xe0 ? 3 : lead >= 0xc0 ? 2 : 1;
    if (length - (start - 1) < need) {
        text[start - 1] = '\0';
    }
}

void vs_faults_add(vs_faults *faults, const char *where, const char *format, ...) {
    if (faults->count == VS_FAULT_MAX) {
        faults->more++;
        return;
    }
    vs_fault *fault = &faults->item[faults->count++];
    snprintf(fault->where, sizeof fault->where, "%s", where);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(fault->text, sizeof fault->text, format, arguments);
    va_end(arguments);
    blank_controls(fault->where);
    blank_controls(fault->text);
    trim_partial_utf8(fault->where);
    trim_partial_utf8(fault->text);
}

bool vs_faults_any(const vs_faults *faults) {
    return faults->count > 0;
}
