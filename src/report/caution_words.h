/* Words that the cautions share. */
#ifndef VEILSTOP_SRC_REPORT_CAUTION_WORDS_H
#define VEILSTOP_SRC_REPORT_CAUTION_WORDS_H

#include "veilstop/report/text.h"
#include "veilstop/shot/cautions.h"

/* The contract's own, section 8. */
#define VS_CAUTION_ALARM                                                                           \
    "expect an alarm: have the system isolated by whoever is responsible for it, with a fire "     \
    "watch, before any haze"
#define VS_CAUTION_DEFER "Defer to local code, the venue and licensed practice."

/* The house's own rules, as a part of the checklist. */
#define VS_CAUTION_RULE_WHEN "the venue's own rules"
#define VS_CAUTION_RULE_WHO  "everyone"

#define VS_MG_PER_G 1e3 /* [mg/g] */

/* A figure as others gave it: "10", "6.67", without zeros behind. */
const char *vs_caution_plain(double value, char text[16]);

/* "8 h", "15 min", "peak": what a limit is averaged over. */
void vs_caution_averaging(vs_text *out, const vs_exposure_limit *limit);

/* The wavelength at which a kind of detector was looked at: its own, or that of extinctions where
 * the fluid is as measured. */
double vs_caution_wavelength_nm(const vs_safety_tables *tables, const vs_caution_optics *optics,
                                vs_detector_kind kind);

#endif
