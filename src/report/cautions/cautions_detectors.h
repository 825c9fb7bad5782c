/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The part of the cautions about smoke detectors. */
#ifndef VEILSTOP_REPORT_CAUTIONS_CAUTIONS_DETECTORS_H
#define VEILSTOP_REPORT_CAUTIONS_CAUTIONS_DETECTORS_H

#include "report/cautions/caution_words.h"

/* Writes it: the venue's own detectors, and one of each kind in every room. */
void vs_caution_detectors(vs_caution_sheet *sheet);

#endif
