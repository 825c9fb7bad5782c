/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The sheet, and what a front end may do with it beyond writing it. */
#ifndef VEILSTOP_ASK_SHEET_SHEET_H
#define VEILSTOP_ASK_SHEET_SHEET_H

#include "ask/args.h"

#define VS_ASK_SHEET_SUMMARY                                                                       \
    "the day on paper: shots, run sheet, place, card, cautions, and a page for the venue"

/* The options that every front end's sheet takes. */
#define VS_ASK_SHEET_OUT                                                                           \
    { "out", "FILE.html", "the sheet (without this: to standard output)" }
#define VS_ASK_SHEET_PAPER                                                                         \
    { "paper", "a4|letter", "its size (default: a4, letter for a scene in feet)" }

/* Answers the question.
 * also  called with the whole file once it is written, before anything is printed; its exit status
 *       counts too; NULL: nothing */
vs_exit vs_ask_sheet(const vs_ask_args *args,
                     vs_exit (*also)(const vs_ask_args *args, const vs_text *html));

#endif
