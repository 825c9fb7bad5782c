/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Light that arrives on a surface. */
#ifndef VEILSTOP_LIGHT_ILLUMINANCE_H
#define VEILSTOP_LIGHT_ILLUMINANCE_H

#include "veilstop/light/airlight.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Illuminance that an emitter makes at p on a surface with unit normal [lx], dimmed by the haze on
 *  its way. Same arguments and errors. A medium without haze gives the clear value. */
VS_WARN_UNUSED vs_status vs_illuminance(vs_airlight *work, const vs_medium *medium,
                                        const vs_emitter *emitter, vs_vec3 p_m, vs_vec3 normal,
                                        double relative, vs_bands *lux);

#ifdef __cplusplus
}
#endif
#endif
