/* A measured lamp: candelas on a grid of vertical and horizontal angles, LM-63 type C. */
#ifndef VEILSTOP_LIGHT_PHOTOMETRY_H
#define VEILSTOP_LIGHT_PHOTOMETRY_H

#include <stddef.h>

#ifdef __cplusplus
extern "C" {
#endif

/** The table as a file gives it, its multipliers applied. Borrowed arrays.
 *  Vertical 0 is the nadir. The horizontal angles cover 0, 0 to 90, 0 to 180 or 0 to 360 degrees:
 *  rotational, quadrant, bilateral and no symmetry. */
typedef struct {
    size_t vertical_count, horizontal_count;
    const double *vertical_rad;   /* ascending, within 0 to pi */
    const double *horizontal_rad; /* ascending, from 0 */
    const double *candela;        /* [horizontal][vertical] */
} vs_photometric_table;

#ifdef __cplusplus
}
#endif
#endif
