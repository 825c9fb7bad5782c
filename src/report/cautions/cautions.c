/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Short cautions, in fixed words (docs/words.md): no density is ever called acceptable. */
#include "veilstop/report/cautions.h"

#include <math.h>

#include "report/cautions/caution_words.h"
#include "veilstop/base/units.h"

/* A caution being written: collected in `line`, then wrapped into `out`. */
typedef struct {
    vs_text *out;
    vs_text line;
} sheet;

static void caution(vs_text *out, const char *text) {
    vs_text_addf(out, "! ");
    vs_style_wrap(out, text, 2);
}

static void end_caution(sheet *s) {
    caution(s->out, vs_text_words(&s->line, s->out));
    s->line.length = 0;
}

void vs_report_short_cautions(vs_text *out, const vs_scene *scene) {
    vs_text_addf(out, "\n");
    if (scene->venue.detector_count > 0) {
        caution(out, "Detectors: " VS_CAUTION_ALARM ".");
    } else {
        caution(out, "Detectors: ask the venue what hangs where; haze that reads on camera usually "
                     "sets off a smoke detector.");
    }
    caution(out, "People breathe it: short exposures, air between takes, nobody with asthma and no "
                 "child in it; exits must stay visible.");
    caution(out, VS_CAUTION_DEFER);
}

/* The words for each basis. */
static const char *basis_words(vs_cautions_basis basis) {
    static const char *const words[] = {"at the peak of the day's plan", "at the shots' densities",
                                        "at the densities shown here"};
    return words[basis];
}

/* The venue's detectors that are reached, one after another; false if there are none. */
static bool add_reached(sheet *s, const vs_scene *scene, const vs_safety_tables *tables,
                        const vs_caution_optics *optics, const vs_cautions_peaks *peaks) {
    bool any = false;
    char peak[16], alarm[16];
    for (size_t i = 0; i < scene->venue.detector_count; i++) {
        const vs_scene_detector *d = &scene->venue.detector[i];
        vs_detector_caution c =
            vs_caution_detector(d, tables, optics, peaks->room_extinction_per_m[d->room]);
        if (!c.reached) {
            continue;
        }
        if (!any) {
            vs_text_addf(&s->line, "Detectors, %s: ", basis_words(peaks->basis));
        }
        vs_text_addf(&s->line, "%s%s ", any ? "; " : "", d->name);
        if (isnan(c.peak_per_m)) {
            vs_text_addf(&s->line, "(not worked out)");
        } else {
            vs_text_addf(&s->line, "sees %s dB/m at %.0f nm, over its %s",
                         vs_style_number(vs_obscuration_db_per_m(c.peak_per_m), peak),
                         vs_caution_wavelength_nm(tables, optics, d->kind),
                         vs_caution_plain(vs_obscuration_db_per_m(c.alarm_per_m), alarm));
        }
        any = true;
    }
    return any;
}

/* If the scene lists no detectors, an optical head is assumed, as most are. */
static void add_unknown_detectors(sheet *s, const vs_safety_tables *tables,
                                  const vs_caution_optics *optics, const vs_cautions_peaks *peaks,
                                  double extinction_per_m) {
    vs_scene_detector head = {
        .kind = VS_DETECTOR_POINT, .alarm_per_m = (double)NAN, .path_m = (double)NAN};
    vs_detector_caution c = vs_caution_detector(&head, tables, optics, extinction_per_m);
    char peak[16], alarm[16];
    if (isnan(c.peak_per_m)) {
        vs_text_addf(&s->line, "Detectors: ask the venue what hangs where; what they make of this "
                               "haze could not be worked out: " VS_CAUTION_ALARM ".");
        return;
    }
    vs_text_addf(&s->line,
                 "Detectors: ask the venue what hangs where; an optical head may alarm from %s "
                 "dB/m, and %s it sees %s at %.0f nm",
                 vs_caution_plain(vs_obscuration_db_per_m(c.alarm_per_m), alarm),
                 basis_words(peaks->basis),
                 vs_style_number(vs_obscuration_db_per_m(c.peak_per_m), peak),
                 vs_caution_wavelength_nm(tables, optics, VS_DETECTOR_POINT));
    vs_text_addf(&s->line, c.reached ? ": " VS_CAUTION_ALARM "." : ", thicker near the hazer.");
}

static void detectors(sheet *s, const vs_scene *scene, const vs_safety_tables *tables,
                      const vs_caution_optics *optics, const vs_cautions_peaks *peaks,
                      double extinction_per_m) {
    if (scene->venue.detector_count == 0) {
        add_unknown_detectors(s, tables, optics, peaks, extinction_per_m);
    } else if (add_reached(s, scene, tables, optics, peaks)) {
        vs_text_addf(&s->line, ": " VS_CAUTION_ALARM ".");
    } else {
        vs_text_addf(&s->line,
                     "Detectors, %s: by these figures none of those named is reached, but near the "
                     "hazer the haze is thicker: tell whoever is responsible for them before any "
                     "haze.",
                     basis_words(peaks->basis));
    }
    end_caution(s);
}

static void add_limit(sheet *s, const vs_exposure_limit *limit, const char *before) {
    char figure[16];
    if (limit) {
        vs_text_addf(&s->line, "%s%s mg/m3 ", before,
                     vs_caution_plain(limit->limit_g_per_m3 * VS_MG_PER_G, figure));
        vs_text_addf(&s->line, limit->average == VS_AVERAGE_PEAK ? "at any moment" : "over ");
        if (limit->average != VS_AVERAGE_PEAK) {
            vs_caution_averaging(&s->line, limit);
        }
    }
}

static void breathing(sheet *s, const vs_scene *scene, const vs_safety_tables *tables,
                      const vs_caution_optics *optics, const vs_cautions_peaks *peaks,
                      double extinction_per_m) {
    vs_caution_mass mass = vs_caution_mass_of(optics, extinction_per_m);
    vs_fluid_class fluid = scene->fluid.class_;
    char low[16], high[16];
    if (isnan(mass.low) || isnan(mass.high)) {
        vs_text_addf(&s->line, "Breathing: how much there is of it could not be worked out");
    } else {
        vs_text_addf(&s->line,
                     "Breathing, %s: %s to %s mg/m3 of droplets, their size not being known",
                     basis_words(peaks->basis), vs_style_number(mass.low * VS_MG_PER_G, low),
                     vs_style_number(mass.high * VS_MG_PER_G, high));
    }
    add_limit(s, vs_caution_lowest_limit(tables, fluid, VS_AVERAGE_SHIFT),
              "; the lowest limits here are ");
    add_limit(s, vs_caution_lowest_limit(tables, fluid, VS_AVERAGE_PEAK), ", ");
    vs_text_addf(&s->line, ". Short exposures, air between takes, nobody with asthma and no child "
                           "in it; `veilstop cautions` works out the day.");
    end_caution(s);
}

static void exits(sheet *s, const vs_style *style, const vs_scene *scene,
                  const vs_safety_tables *tables, const double *room_extinction_per_m) {
    vs_exit_caution e = vs_caution_exit(scene, tables, room_extinction_per_m);
    const char *unit = vs_style_length_unit(style);
    char lit[16], reflecting[16], needed[16];
    vs_text_addf(&s->line, "Exits: a lit sign shows to %s %s, a reflecting one to %s %s",
                 vs_caution_plain(vs_style_length(style, e.lit_m), lit), unit,
                 vs_caution_plain(vs_style_length(style, e.reflecting_m), reflecting), unit);
    if (!e.exit_seen) {
        vs_text_addf(&s->line, ": the way out, %s %s away, does NOT show",
                     vs_caution_plain(vs_style_length(style, scene->venue.exit_m), needed), unit);
    }
    if (!e.criterion_met) {
        vs_text_addf(&s->line, ": under the %s %s needed in %s",
                     vs_caution_plain(vs_style_length(style, tables->exit[0].needed_m), needed),
                     unit, tables->exit[0].where);
    }
    vs_text_addf(&s->line, ".");
    end_caution(s);
}

void vs_report_density_cautions(vs_text *out, const vs_style *style, const vs_scene *scene,
                                const vs_safety_tables *tables, const vs_caution_optics *optics,
                                const char *why_not, const vs_cautions_peaks *peaks) {
    sheet s = {.out = out};
    const double *room_extinction_per_m = peaks->room_extinction_per_m;
    double thickest = 0;
    for (size_t room = 0; room < scene->room_count; room++) {
        thickest = fmax(thickest, room_extinction_per_m[room]);
    }
    vs_text_init(&s.line);
    vs_text_addf(out, "\n");
    if (why_not) {
        vs_text_addf(&s.line, "Not all of the cautions could be worked out: %s.", why_not);
        end_caution(&s);
    }
    if (thickest > 0) {
        detectors(&s, scene, tables, optics, peaks, thickest);
        breathing(&s, scene, tables, optics, peaks, thickest);
        exits(&s, style, scene, tables, room_extinction_per_m);
    } else {
        caution(out, "There is no haze in these figures; any haze may trip a detector.");
    }
    caution(out, VS_CAUTION_DEFER);
    vs_text_free(&s.line);
}

void vs_report_light_caution(vs_text *out, const vs_scene *scene, const vs_safety_tables *tables,
                             const vs_caution_optics *optics, const vs_cautions_peaks *peaks) {
    sheet s = {.out = out};
    size_t reached = 0;
    vs_text_init(&s.line);
    vs_text_addf(out, "\n");
    vs_text_addf(&s.line, "Haze is breathed and sets off alarms");
    for (size_t i = 0; scene && i < scene->venue.detector_count; i++) {
        const vs_scene_detector *d = &scene->venue.detector[i];
        double k = peaks->room_extinction_per_m[d->room];
        if (vs_caution_detector(d, tables, optics, k).reached) {
            vs_text_addf(&s.line, "%s%s", reached++ ? ", " : ", here ", d->name);
        }
    }
    vs_text_addf(&s.line, "%s. %s", scene ? ": `veilstop cautions`" : "", VS_CAUTION_DEFER);
    end_caution(&s);
    vs_text_free(&s.line);
}

void vs_report_alarms_json(vs_json *json, const vs_scene *scene, const vs_safety_tables *tables,
                           const vs_caution_optics *optics, const vs_cautions_peaks *peaks) {
    static const char *const word[] = {"plan", "shots", "answer"};
    vs_json_open_array(json, "alarms");
    for (size_t i = 0; i < scene->venue.detector_count; i++) {
        const vs_scene_detector *d = &scene->venue.detector[i];
        double k = peaks->room_extinction_per_m[d->room];
        if (vs_caution_detector(d, tables, optics, k).reached) {
            vs_json_string(json, NULL, d->name);
        }
    }
    vs_json_close_array(json);
    vs_json_string(json, "alarms_from", word[peaks->basis]);
}
