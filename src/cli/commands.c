/* The list of commands. */
#include "cli/cli.h"

extern const vs_cli_command vs_cli_predict;
extern const vs_cli_command vs_cli_dwell;

const vs_cli_command *const vs_cli_commands[] = {&vs_cli_predict, &vs_cli_dwell};
const size_t vs_cli_command_count = sizeof vs_cli_commands / sizeof vs_cli_commands[0];
