/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The list of commands. */
#include "cli/cli.h"

extern const vs_ask_command vs_cli_new;
extern const vs_ask_command vs_ask_command_predict;
extern const vs_ask_command vs_ask_command_choose;
extern const vs_ask_command vs_ask_command_dwell;
extern const vs_ask_command vs_ask_command_fluid;
extern const vs_ask_command vs_ask_command_grade;
extern const vs_ask_command vs_cli_pair;
extern const vs_ask_command vs_cli_picture;
extern const vs_ask_command vs_cli_still_command;
extern const vs_ask_command vs_ask_command_reading;
extern const vs_ask_command vs_ask_command_cautions;
extern const vs_ask_command vs_ask_command_trust;
extern const vs_ask_command vs_cli_sheet;

const vs_ask_command *const vs_cli_commands[] = {
    &vs_cli_new,
    &vs_ask_command_predict,
    &vs_ask_command_choose,
    &vs_ask_command_dwell,
    &vs_ask_command_fluid,
    &vs_ask_command_grade,
    &vs_cli_pair,
    &vs_cli_picture,
    &vs_cli_still_command,
    &vs_ask_command_reading,
    &vs_ask_command_cautions,
    &vs_cli_sheet,
    &vs_ask_command_trust,
};
const size_t vs_cli_command_count = sizeof vs_cli_commands / sizeof vs_cli_commands[0];
