/* By how many whole pixels one frame lies off another of the same framing. */
#ifndef VEILSTOP_PICTURE_PAIR_SHIFT_H
#define VEILSTOP_PICTURE_PAIR_SHIFT_H

#include "veilstop/picture/picture.h"

/* The shift, up to 8 pixels each way, at which the frames' edges agree best: b(x + dx, y + dy)
 * shows what a(x, y) shows. 0, 0 where none is clearly better, as in frames without edges. */
void vs_pair_find_shift(const vs_picture *a, const vs_picture *b, int *dx, int *dy);

#endif
