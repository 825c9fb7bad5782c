/* The list of commands. */
#include "cli/cli.h"

const vs_cli_command *const vs_cli_commands[] = {NULL};
const size_t vs_cli_command_count = sizeof vs_cli_commands / sizeof vs_cli_commands[0] - 1;
