/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "ask/grade/grade_files.h"

#include "veilstop/report/cdl_file.h"
#include "veilstop/report/file_out.h"

static vs_exit write_text(const char *path, const vs_text *text) {
    if (text->failed) {
        return vs_ask_fail_status(VS_ERR_MEMORY, path);
    }
    vs_status status = vs_ask_file_write(path, text->bytes, text->length);
    return status == VS_OK ? VS_EXIT_DONE : vs_ask_fail_file(path, "written");
}

vs_exit vs_ask_write_cdl(const char *path, const vs_cdl *cdl, const char *id,
                         const vs_text *words) {
    if (!path) {
        return VS_EXIT_DONE;
    }
    vs_text text;
    vs_text_init(&text);
    vs_cdl_file(&text, cdl, id, vs_text_words(words, &text));
    vs_exit code = write_text(path, &text);
    vs_text_free(&text);
    return code;
}

vs_exit vs_ask_write_clf(const char *path, const vs_curve *curve, const vs_linear_grade *grade,
                         const char *id, const vs_text *words, vs_clf_promise *promise) {
    if (!path) {
        return VS_EXIT_DONE;
    }
    vs_text text;
    vs_text_init(&text);
    vs_status status = vs_clf_file(&text, curve, grade, id, vs_text_words(words, &text), promise);
    vs_exit code = status == VS_OK ? write_text(path, &text) : vs_ask_fail_status(status, path);
    vs_text_free(&text);
    return code;
}

vs_exit vs_ask_write_clf_matrix(const char *path, const vs_curve *curve, const double matrix[3][4],
                                const char *id, const vs_text *words) {
    if (!path) {
        return VS_EXIT_DONE;
    }
    vs_text text;
    vs_text_init(&text);
    vs_clf_matrix_file(&text, curve, matrix, id, vs_text_words(words, &text));
    vs_exit code = write_text(path, &text);
    vs_text_free(&text);
    return code;
}

static void add_written(vs_text *out, const char *path) {
    vs_text_addf(out, "  wrote ");
    vs_ask_add_name(out, path);
    vs_text_addf(out, ", ");
}

void vs_ask_files_text(vs_text *out, const vs_ask_args *args, const vs_clf_promise *promise) {
    const char *cdl = vs_ask_value(args, "cdl"), *clf = vs_ask_value(args, "clf");
    const char *map = vs_ask_value(args, "map"), *matte = vs_ask_value(args, "matte");
    if (cdl) {
        add_written(out, cdl);
        vs_text_addf(out, "the CDL\n");
    }
    if (clf) {
        add_written(out, clf);
    }
    if (clf && !promise) {
        vs_text_addf(out, "the fitted matrix (CLF)\n");
    } else if (clf) {
        vs_text_addf(out, "the exact grade (within %.1e of the signal%s)\n", promise->error,
                     promise->table ? ", 1D tables" : "");
    }
    if (map) {
        add_written(out, map);
        vs_text_addf(out, "the map\n");
    }
    if (matte) {
        add_written(out, matte);
        vs_text_addf(out, "the map of transmission\n");
    }
}
