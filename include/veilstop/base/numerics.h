/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one process-wide switch of the numerics library. */
#ifndef VEILSTOP_BASE_NUMERICS_H
#define VEILSTOP_BASE_NUMERICS_H

#ifdef __cplusplus
extern "C" {
#endif

/** Turns off GSL's abort-on-error handler for the whole process. A program calls it first in main;
 *  this library never does, because the handler belongs to the program. Without it GSL aborts where
 *  this library would have returned VS_ERR_CONVERGENCE. */
void vs_numerics_handler_off(void);

#ifdef __cplusplus
}
#endif
#endif
