/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The page's door into the core. Everything in and out lies in memory. */
#ifndef VEILSTOP_PAGE_CORE_PAGE_H
#define VEILSTOP_PAGE_CORE_PAGE_H

#include <stdbool.h>
#include <stddef.h>

#include "veilstop/ask/ask.h"
#include "veilstop/picture/frame.h"
#include "veilstop/picture/picture.h"
#include "veilstop/picture/still.h"
#include "veilstop/report/text.h"
#include "veilstop/shot/predict.h"

/* A function that the page's JavaScript calls by its name. */
#define PAGE_EXPORT(name) __attribute__((export_name(#name)))

/* Keeps a file that a command or a scene may name, until it is replaced; 0 where there is no
 * room. */
int vs_page_put_file(const char *name, const char *bytes, size_t length);
/* Its bytes, with a NUL behind them; NULL: none of that name. Borrowed. */
const char *vs_page_get_file(const char *name, size_t *length);
/* The same as a reader gives it. */
vs_status vs_page_read_file(const char *path, size_t most, char **bytes, size_t *length);

/* A shot's view in one size. */
typedef struct {
    vs_predictor predictor; /* its own: a frame's is not to be asked by others */
    vs_frame frame;
    bool open;
    size_t shot, width, height;
    vs_picture picture;
    float *graded;         /* three planes */
    unsigned char *pixels; /* R G B A, width x height */
} vs_page_view;

/* Large and small pictures are open beside one another, so that the small ones of other shots do
 * not put away what a hand is on. */
#define VS_PAGE_VIEWS       2
#define VS_PAGE_SMALL_WIDTH 200 /* [pixels] up to it, small: our choice */

void vs_page_close_view(vs_page_view *view);

/* The answer about one shot, and shots at their own densities, for those that are to be like
 * them. */
typedef struct {
    vs_text text;
    vs_shot_prediction *own; /* one a shot; those that are known */
    bool *known;
    size_t count;
} vs_page_numbers;

/* A photo in a shot's haze. */
typedef struct {
    vs_still still;
    bool open;
    size_t shot;
    vs_picture photo, hazed;
    unsigned char *pixels; /* R G B A */
} vs_page_scout;

void vs_page_close_scout(vs_page_scout *scout);

typedef struct {
    vs_ask ask;
    vs_ask_answer answer; /* of the last question; stays until the next */
    vs_page_numbers numbers;
    vs_page_view view[VS_PAGE_VIEWS];
    vs_page_scout scout;
} vs_page;

void vs_page_close_numbers(vs_page *page);

#endif
