/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The fault list: bounded, one line per fault, whatever bytes a user's file contains. */
#include "veilstop/base/error.h"

#include <stdarg.h>
#include <stdio.h>

#include "veilstop/base/utf8.h"

void vs_faults_add(vs_faults *faults, const char *where, const char *format, ...) {
    if (faults->count == VS_FAULT_MAX) {
        faults->more++;
        return;
    }
    /* longer than what is kept, so that the cut falls between whole characters */
    char text[2 * VS_FAULT_TEXT_SIZE];
    vs_fault *fault = &faults->item[faults->count++];
    vs_utf8_escape(where, fault->where, sizeof fault->where);
    va_list arguments;
    va_start(arguments, format);
    vsnprintf(text, sizeof text, format, arguments);
    va_end(arguments);
    vs_utf8_escape(text, fault->text, sizeof fault->text);
}

bool vs_faults_any(const vs_faults *faults) {
    return faults->count > 0;
}
