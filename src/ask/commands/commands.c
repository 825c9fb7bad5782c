/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The list of commands that answer. */
#include "ask/commands/commands.h"

#include <string.h>

extern const vs_ask_command vs_ask_command_predict;
extern const vs_ask_command vs_ask_command_choose;
extern const vs_ask_command vs_ask_command_dwell;
extern const vs_ask_command vs_ask_command_fluid;
extern const vs_ask_command vs_ask_command_grade;
extern const vs_ask_command vs_ask_command_reading;
extern const vs_ask_command vs_ask_command_still;
extern const vs_ask_command vs_ask_command_cautions;
extern const vs_ask_command vs_ask_command_trust;
extern const vs_ask_command vs_ask_command_sheet;

const vs_ask_command *const vs_ask_commands[] = {
    &vs_ask_command_predict,  &vs_ask_command_choose, &vs_ask_command_dwell,
    &vs_ask_command_fluid,    &vs_ask_command_grade,  &vs_ask_command_reading,
    &vs_ask_command_cautions, &vs_ask_command_trust,  &vs_ask_command_sheet,
    &vs_ask_command_still,
};
const size_t vs_ask_command_count = sizeof vs_ask_commands / sizeof vs_ask_commands[0];

const vs_ask_command *vs_ask_find_command(const char *name) {
    for (size_t i = 0; i < vs_ask_command_count; i++) {
        if (strcmp(name, vs_ask_commands[i]->name) == 0) {
            return vs_ask_commands[i];
        }
    }
    return NULL;
}
