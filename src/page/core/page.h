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

/* What the linker of WebAssembly hears of a function: that the page's JavaScript calls it by its name, or
 * lends it. On another machine, where the tests are, these are plain functions. */
#ifdef __wasm__
#define PAGE_EXPORT(name) __attribute__((export_name(#name)))
#define PAGE_IMPORT(name) __attribute__((import_module("env"), import_name(#name)))
#else
#define PAGE_EXPORT(name)
#define PAGE_IMPORT(name)
#endif

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

/* ---- what the page's JavaScript calls ---- */

/* Keeps a file that a command or a scene may name, until it is replaced; 0 where there is no
 * room. */
int vs_page_put_file(const char *name, const char *bytes, size_t length);
/* Its bytes, with a NUL behind them; NULL: none of that name. Borrowed. */
const char *vs_page_get_file(const char *name, size_t *length);
/* The same as a reader gives it. */
vs_status vs_page_read_file(const char *path, size_t most, char **bytes, size_t *length);

/* The scene of a text; NULL where it is none: vs_page_faults tells why. */
vs_page *vs_page_open(const char *text, size_t length, const char *name);
/* {"faults":[{"where","text"},...]} of the scene opened last, none where it is one. */
const char *vs_page_faults(void);
void vs_page_close(vs_page *page); /* NULL: nothing */

/* words  each with a NUL behind, an empty one at the end: as on a command line, without the scene
 * The exit status of the program; vs_page_answer and vs_page_messages have what it says. */
int vs_page_run(vs_page *page, const char *words);
const char *vs_page_answer(const vs_page *page);
const char *vs_page_messages(const vs_page *page);

/* Figures of a shot with a density in its camera's room [1/m at 549 nm]; NaN: the shot's own. An
 * element of the answer's "shots" as `predict` gives it, borrowed until the next; NULL where it
 * failed, as where a density that is asked for is open. */
const char *vs_page_predict(vs_page *page, int shot, double extinction_per_m);

/* The picture of a shot with a density in its camera's room [1/m at 549 nm]; NaN: the shot's own.
 * fine 0: coarse, at once.  grade: slope of R, G, B, then offset; 0: none
 * R G B A bytes as a display shows them, borrowed until the next; NULL where it failed. */
const unsigned char *vs_page_picture(vs_page *page, int shot, double extinction_per_m, int width,
                                     int height, int fine, const double *grade);

/* A photo in a shot's haze.
 * extinction_per_m  in its camera's room, at 549 nm; NaN: the shot's own
 * rgba  R G B A bytes of the photo, width x height, whose camera is the shot's
 * grey  x, y [pixels] of a patch, and its light [cd/m2], NaN: a card that the shot shows as middle
 *       grey; NULL: the photo is exposed as the shot
 * The same of the hazed photo, borrowed until the next; NULL where it failed. */
const unsigned char *vs_page_scouted(vs_page *page, int shot, double extinction_per_m, int width,
                                     int height, const unsigned char *rgba, const double *grey);
/* Whether a patch tells how a photo was exposed.  grey: as in vs_page_scouted
 * 1: it does; 0: it is too near the photo's edge; -1: it is clipped or black; -2: no memory */
int vs_page_scout_grey(vs_page *page, int shot, int width, int height, const unsigned char *rgba,
                       const double *grey);

/* Lent by whoever starts the core: hears how far a question is. */
PAGE_IMPORT(vs_page_share_done)
void vs_page_share_done(int done, int count);

#endif
