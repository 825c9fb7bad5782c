/* The cautions that end every text answer. */
#ifndef VEILSTOP_REPORT_CAUTIONS_H
#define VEILSTOP_REPORT_CAUTIONS_H

#include "veilstop/report/text.h"
#include "veilstop/shot/scene.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Short cautions for a scene: breathing, detectors, exits, who decides. */
void vs_report_short_cautions(vs_text *out, const vs_scene *scene);

#ifdef __cplusplus
}
#endif
#endif
