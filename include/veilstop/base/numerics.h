/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The one switch over the numerics library under us. */
#ifndef VEILSTOP_BASE_NUMERICS_H
#define VEILSTOP_BASE_NUMERICS_H

#ifdef __cplusplus
extern "C" {
#endif

/** Turns off GSL's abort-on-error handler for the whole process. A program calls it first thing in
 *  main; the library itself never does, for the handler belongs to the program. Without it GSL
 *  aborts where this library would have returned VS_ERR_CONVERGENCE. */
void vs_numerics_handler_off(void);

#ifdef __cplusplus
}
#endif
#endif
