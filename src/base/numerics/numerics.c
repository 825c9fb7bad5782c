/* SPDX-License-Identifier: GPL-3.0-or-later */
/* See the header. */
#include "veilstop/base/numerics.h"

#include <gsl/gsl_errno.h>

void vs_numerics_handler_off(void) {
    gsl_set_error_handler_off();
}
