/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Any answer as tables for a spreadsheet, made from its JSON: each list of an answer is one table.
 */
#ifndef VEILSTOP_CLI_CSV_H
#define VEILSTOP_CLI_CSV_H

#include "veilstop/base/status.h"
#include "veilstop/report/text.h"

/* Appends the tables of an answer (RFC 4180, lines ended by a line feed): the name of each alone on
 * a line, its columns, its rows, an empty line. Rows of a list within a list begin with the names
 * of what contains them. Objects within a row become columns "a.b", short lists of numbers "a.1",
 * "a.2".
 *  json  one JSON object as the program prints it
 *  Errors: VS_ERR_INPUT if it is not, VS_ERR_MEMORY. */
VS_WARN_UNUSED vs_status vs_cli_csv(const char *json, vs_text *out);

#endif
