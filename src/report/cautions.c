/* The words are the contract's, section 8: no density is ever a verdict. */
#include "veilstop/report/cautions.h"

#include "veilstop/report/style.h"

static void caution(vs_text *out, const char *text) {
    vs_text_addf(out, "! ");
    vs_style_wrap(out, text, 2);
}

void vs_report_short_cautions(vs_text *out, const vs_scene *scene) {
    vs_text_addf(out, "\n");
    if (scene->venue.detector_count > 0) {
        caution(out,
                "Detectors: expect an alarm: have the system isolated by whoever is responsible "
                "for it, with a fire watch, before any haze.");
    } else {
        caution(out, "Detectors: ask the venue what hangs where; haze that reads on camera usually "
                     "sets off a smoke detector.");
    }
    caution(out, "People breathe it: short exposures, air between takes, nobody with asthma and no "
                 "child in it; exits must stay visible.");
    caution(out, "Defer to local code, the venue and licensed practice.");
}
