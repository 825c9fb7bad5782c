/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See reads.h. */
#include "veilstop/shot/reads.h"

vs_reads vs_reads_of(double over_stops) {
    return over_stops >= VS_READS_STRONG_STOPS   ? VS_READS_STRONG
           : over_stops >= VS_READS_CLEAR_STOPS  ? VS_READS_CLEAR
           : over_stops >= VS_READS_SOFT_STOPS   ? VS_READS_SOFT
           : over_stops >= VS_READS_BARELY_STOPS ? VS_READS_BARELY
                                                 : VS_READS_NOT;
}
