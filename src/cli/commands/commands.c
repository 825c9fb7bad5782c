/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The list of commands. */
#include "cli/cli.h"

extern const vs_cli_command vs_cli_new;
extern const vs_cli_command vs_cli_predict;
extern const vs_cli_command vs_cli_choose;
extern const vs_cli_command vs_cli_dwell;
extern const vs_cli_command vs_cli_fluid;
extern const vs_cli_command vs_cli_grade;
extern const vs_cli_command vs_cli_pair;
extern const vs_cli_command vs_cli_picture;
extern const vs_cli_command vs_cli_reading;
extern const vs_cli_command vs_cli_cautions;
extern const vs_cli_command vs_cli_trust;

const vs_cli_command *const vs_cli_commands[] = {
    &vs_cli_new,  &vs_cli_predict, &vs_cli_choose,  &vs_cli_dwell,    &vs_cli_fluid, &vs_cli_grade,
    &vs_cli_pair, &vs_cli_picture, &vs_cli_reading, &vs_cli_cautions, &vs_cli_trust,
};
const size_t vs_cli_command_count = sizeof vs_cli_commands / sizeof vs_cli_commands[0];
