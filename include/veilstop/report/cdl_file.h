/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A CDL as a file: one ColorCorrection element in XML.
 * Source: ASC Color Decision List 1.2 (namespace urn:ASC:CDL:v1.2). */
#ifndef VEILSTOP_REPORT_CDL_FILE_H
#define VEILSTOP_REPORT_CDL_FILE_H

#include "veilstop/camera/cdl.h"
#include "veilstop/report/text.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Appends the file.
 *  id           of the correction, any UTF-8
 *  description  one line: its effect, the curve it is for, its error
 *  Checked: tests/unit/test_grade_files.c, parsed by libxml2 and evaluated there. */
void vs_cdl_file(vs_text *out, const vs_cdl *cdl, const char *id, const char *description);

#ifdef __cplusplus
}
#endif
#endif
