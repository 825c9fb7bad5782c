/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The words of vs_source_status, from the same list as the enum. */
#include "veilstop/base/source.h"

#define WORD(member, word) word,
const char *const vs_source_words[VS_SOURCE_STATUS_COUNT] = {VS_SOURCE_LIST(WORD)};
