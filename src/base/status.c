/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The texts of vs_status, from the same list as the enum. */
#include "veilstop/base/status.h"

const char *vs_status_text(vs_status status) {
    switch (status) {
#define VS_STATUS_CASE(member, text)                                                               \
    case member:                                                                                   \
        return text;
        VS_STATUS_LIST(VS_STATUS_CASE)
#undef VS_STATUS_CASE
    }
    return "unknown status";
}
