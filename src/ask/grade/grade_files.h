/* SPDX-License-Identifier: GPL-3.0-or-later */
/* CDL and CLF files, shared by `grade` and `pair`. */
#ifndef VEILSTOP_ASK_GRADE_GRADE_FILES_H
#define VEILSTOP_ASK_GRADE_GRADE_FILES_H

#include "ask/args.h"
#include "veilstop/camera/cdl.h"
#include "veilstop/report/clf_file.h"

#define VS_CLI_CDL                                                                                 \
    { "cdl", "FILE", "write the CDL as a ColorCorrection (ASC CDL 1.2)" }
#define VS_CLI_CLF                                                                                 \
    { "clf", "FILE", "write the exact grade in the Common LUT Format" }

/* Write a file whole; path NULL: nothing to do. */
vs_exit vs_ask_write_cdl(const char *path, const vs_cdl *cdl, const char *id, const vs_text *words);
vs_exit vs_ask_write_clf(const char *path, const vs_curve *curve, const vs_linear_grade *grade,
                         const char *id, const vs_text *words, vs_clf_promise *promise);

vs_exit vs_ask_write_clf_matrix(const char *path, const vs_curve *curve, const double matrix[3][4],
                                const char *id, const vs_text *words);

/* A line for each file that was written; promise NULL: the CLF holds a fitted matrix. */
void vs_ask_files_text(vs_text *out, const vs_ask_args *args, const vs_clf_promise *promise);

#endif
